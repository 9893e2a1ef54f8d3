// The night in some hundreds of equal bins, with wake-ups set aside, in which slow misreadings show. One
// pass over the samples, and no array of the trace's length.

import type { Trace } from '../../contract/capture.ts';
import type { WakeUp } from '../../contract/findings.ts';

const BINS_MAX = 1440;
const BIN_SHORTEST_S = 60;

/** A night in equal bins. */
export interface Coarse {
  /** Length of a bin. */
  width_s: number;
  /** Middle of each bin, from the first sample. */
  t_s: Float64Array;
  /** Mean of all samples; NaN where there is none. */
  mean_mA: Float64Array;
  /** Mean without wake-ups and dips; NaN where they fill the bin. */
  base_mA: Float64Array;
  /** Highest current of all samples. */
  highest_mA: number;
  /**
   * Longest run of neighbours at exactly that current, and the share of equal neighbours among the
   * others.
   */
  highest_run: number;
  equal_share: number;
}

/** Time around a wake-up or dip that still holds part of its edges. */
const EDGE_S = 2;

/**
 * Divides a night into at most 1440 equal bins of a minute or more. O(samples + bins).
 *
 * @param duration_s length of the trace
 * @param events wake-ups and dips, in order of their starts
 */
export function coarseOf(trace: Trace, duration_s: number, events: readonly WakeUp[]): Coarse {
  const width_s = Math.max(BIN_SHORTEST_S, duration_s / BINS_MAX);
  const bins = Math.max(1, Math.ceil(duration_s / width_s));
  const { time } = trace;
  const first_s = time.kind === 'listed' ? (time.t_s[0] ?? 0) : 0;
  const [sum, seen, base, rest] = [
    new Float64Array(bins),
    new Float64Array(bins),
    new Float64Array(bins),
    new Float64Array(bins),
  ];
  const values = trace.mean_mA;
  const high = trace.max_mA ?? values;
  let highest_mA = -Infinity;
  let [run, highest_run, equal, pairs, e] = [0, 0, 0, 0, 0];
  let past_s = -Infinity;
  for (let i = 0; i < values.length; i++) {
    const t = time.kind === 'listed' ? time.t_s[i]! - first_s : i * time.step_s;
    const bin = Math.min(bins - 1, Math.floor(t / width_s));
    const value = values[i]!;
    sum[bin]! += value;
    seen[bin]!++;
    while (e < events.length && events[e]!.start_s - EDGE_S <= t)
      past_s = Math.max(past_s, events[e++]!.end_s + EDGE_S);
    if (t >= past_s) {
      base[bin]! += value;
      rest[bin]!++;
    }
    const peak = high[i]!;
    if (peak > highest_mA) {
      highest_mA = peak;
      run = 1;
      highest_run = 1;
    } else if (peak === highest_mA) highest_run = Math.max(highest_run, ++run);
    else {
      run = 0;
      pairs++;
      if (i > 0 && peak === high[i - 1]!) equal++;
    }
  }
  const of = (total: Float64Array, n: Float64Array) => total.map((value, k) => (n[k]! > 0 ? value / n[k]! : NaN));
  return {
    width_s,
    t_s: Float64Array.from({ length: bins }, (_, k) => (k + 0.5) * width_s),
    mean_mA: of(sum, seen),
    base_mA: of(base, rest),
    highest_mA,
    highest_run,
    equal_share: pairs === 0 ? 1 : equal / pairs,
  };
}
