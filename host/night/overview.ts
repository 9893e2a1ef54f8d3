// Bins as they are drawn, by page and report alike, and as the server answers them.

import { binsOf, GAP_LEAST_S, GAP_MEDIANS } from '../capture/read/bins.ts';
import type { Overview } from '../contract/api.ts';
import type { Bins, Trace } from '../contract/capture.ts';

export type OverviewOf = (from_s: number, to_s: number, bins: number) => Overview;

/** Any stretch of a trace in memory. O(samples) once, then O(bins x log samples) an answer. */
export function overviewOf(trace: Trace): OverviewOf {
  const bins = binsOf(trace);
  return (from_s, to_s, count) => asOverview(bins(from_s, to_s, count), from_s, to_s);
}

/** @param bins equal ones from `from_s` to `to_s`; empty ones become null */
export function asOverview({ mean, min, max }: Bins, from_s: number, to_s: number): Overview {
  return { from_s, to_s, mean_mA: rounded(mean), min_mA: rounded(min), max_mA: rounded(max) };
}

/** Nanoamperes are below any sense chip's noise; fewer digits halve the answer. What is not finite is no sample. */
function rounded(values_mA: Float64Array): (number | null)[] {
  const out = new Array<number | null>(values_mA.length);
  for (let i = 0; i < out.length; i++) {
    const value = values_mA[i]!;
    out[i] = Number.isFinite(value) ? Math.round(value * 1e6) / 1e6 : null;
  }
  return out;
}

/**
 * Lets a value stand for the empty bins that follow it, where they are no gap but
 * merely narrower than the spacing of the samples. Fills the arrays in place.
 */
export function joinHoles(overview: Overview, spacing_s: number, width_s: number): Overview {
  const longest = Math.floor(Math.max(GAP_MEDIANS * spacing_s, GAP_LEAST_S) / width_s);
  let last = -1;
  for (let b = 0; b < overview.mean_mA.length; b++) {
    if (overview.mean_mA[b] === null) continue;
    if (last >= 0 && b - last <= longest) {
      for (const values of [overview.mean_mA, overview.min_mA, overview.max_mA])
        values.fill(values[last]!, last + 1, b);
    }
    last = b;
  }
  return overview;
}
