// The night in some hundreds of equal bins, with wake-ups set aside, in which slow misreadings show. One
// pass over the samples, and no array of the trace's length.

import type { Samples, Trace } from '../../contract/capture.ts';
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
  const { time, mean_mA: values } = trace;
  const t_s = time.kind === 'listed' ? time.t_s : null;
  const step_s = time.kind === 'listed' ? 0 : time.step_s;
  const first_s = t_s?.[0] ?? 0;
  const [sum, seen, base, rest] = [
    new Float64Array(bins),
    new Float64Array(bins),
    new Float64Array(bins),
    new Float64Array(bins),
  ];
  let e = 0;
  let past_s = -Infinity;
  for (let i = 0; i < values.length;) {
    const bin = Math.min(bins - 1, Math.floor((t_s === null ? i * step_s : t_s[i]! - first_s) / width_s));
    const end_s = bin === bins - 1 ? Infinity : (bin + 1) * width_s;
    const from = i;
    let [all, still, stills] = [0, 0, 0];
    do {
      const t = t_s === null ? i * step_s : t_s[i]! - first_s;
      if (t >= end_s) break;
      while (e < events.length && events[e]!.start_s - EDGE_S <= t)
        past_s = Math.max(past_s, events[e++]!.end_s + EDGE_S);
      const value = values[i]!;
      all += value;
      if (t >= past_s) {
        still += value;
        stills++;
      }
    } while (++i < values.length);
    sum[bin]! += all;
    seen[bin]! += i - from;
    base[bin]! += still;
    rest[bin]! += stills;
  }
  const of = (total: Float64Array, n: Float64Array) => total.map((value, k) => (n[k]! > 0 ? value / n[k]! : NaN));
  return {
    width_s,
    t_s: Float64Array.from({ length: bins }, (_, k) => (k + 0.5) * width_s),
    mean_mA: of(sum, seen),
    base_mA: of(base, rest),
    ...highestOf(trace.max_mA ?? values),
  };
}

function highestOf(high: Samples): Pick<Coarse, 'highest_mA' | 'highest_run' | 'equal_share'> {
  let highest_mA = -Infinity;
  let [run, highest_run, equal, pairs] = [0, 0, 0, 0];
  for (let i = 0; i < high.length; i++) {
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
  return { highest_mA, highest_run, equal_share: pairs === 0 ? 1 : equal / pairs };
}
