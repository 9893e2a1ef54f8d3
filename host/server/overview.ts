// Bins over a trace held in memory: what the page needs to draw a CSV file. Capture
// files bring their own, faster way; both answer the same question.

import type { Trace } from '../capture/types.ts';
import type { Overview } from './api.ts';

/** A spacing above this many medians, and above `GAP_LEAST_S`, is a gap. */
const GAP_MEDIANS = 5;
const GAP_LEAST_S = 2;

export type OverviewOf = (from_s: number, to_s: number, bins: number) => Overview;

/**
 * Prepares binning. Each sample stands for the time that it covers: a window for
 * its own length, a point for half the way to each neighbour (so that bin means
 * agree with the trapezoid rule), but never far into a gap.
 */
export function overviewOf(trace: Trace): OverviewOf {
  const count = trace.mean_mA.length;
  const time = timeAt(trace);
  const reach_s = trace.kind === 'points' ? pointReach(trace, count) : null;
  const startOf = (i: number) => (reach_s === null ? time(i) : time(i) - halfWay(time, i, i - 1, count, reach_s));
  const endOf = (i: number) => (reach_s === null ? time(i) + (trace.dur_s?.[i] ?? 0) : time(i) + halfWay(time, i, i + 1, count, reach_s));

  return (from_s, to_s, bins) => {
    const width_s = (to_s - from_s) / bins;
    const weight_s = new Float64Array(bins);
    const sum = new Float64Array(bins);
    const low = new Float64Array(bins).fill(Infinity);
    const high = new Float64Array(bins).fill(-Infinity);
    for (let i = firstReaching(endOf, count, from_s); i < count; i++) {
      const start = startOf(i);
      if (start >= to_s) break;
      const end = Math.max(endOf(i), start);
      const mean = trace.mean_mA[i]!;
      const lowest = trace.min_mA?.[i] ?? mean;
      const highest = trace.max_mA?.[i] ?? mean;
      const first = Math.max(0, Math.floor((start - from_s) / width_s));
      const last = Math.min(bins - 1, Math.floor((end - from_s) / width_s));
      for (let b = first; b <= last; b++) {
        const covered = Math.min(end, from_s + (b + 1) * width_s) - Math.max(start, from_s + b * width_s);
        if (!(covered > 0)) continue;
        weight_s[b]! += covered;
        sum[b]! += covered * mean;
        if (lowest < low[b]!) low[b] = lowest;
        if (highest > high[b]!) high[b] = highest;
      }
    }
    // Nothing over nothing is NaN, which stands for no sample.
    return { from_s, to_s, mean_mA: rounded(sum.map((value, b) => value / weight_s[b]!)), min_mA: rounded(low), max_mA: rounded(high) };
  };
}

/** Nanoamperes are below any sense chip's noise; fewer digits halve the answer. What is not finite is no sample. */
export function rounded(values_mA: Float64Array): (number | null)[] {
  return Array.from(values_mA, (value) => (Number.isFinite(value) ? Math.round(value * 1e6) / 1e6 : null));
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
      for (const values of [overview.mean_mA, overview.min_mA, overview.max_mA]) values.fill(values[last]!, last + 1, b);
    }
    last = b;
  }
  return overview;
}

function timeAt(trace: Trace): (i: number) => number {
  const axis = trace.time;
  return axis.kind === 'regular' ? (i) => i * axis.step_s : (i) => axis.t_s[i]!;
}

/** First sample whose end lies after `from_s`; samples ascend. */
function firstReaching(endOf: (i: number) => number, count: number, from_s: number): number {
  let low = 0;
  let high = count;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (endOf(middle) > from_s) high = middle;
    else low = middle + 1;
  }
  return low;
}

/** Longest spacing that still joins two points, and the half spacing to use beside a gap. */
function pointReach(trace: Trace, count: number): { joined_s: number; alone_s: number } {
  if (trace.time.kind === 'regular') return { joined_s: Infinity, alone_s: trace.time.step_s / 2 };
  const spacing = new Float64Array(Math.max(0, count - 1));
  for (let i = 1; i < count; i++) spacing[i - 1] = trace.time.t_s[i]! - trace.time.t_s[i - 1]!;
  spacing.sort();
  const median = spacing[spacing.length >> 1] ?? 0;
  return { joined_s: Math.max(GAP_MEDIANS * median, GAP_LEAST_S), alone_s: median / 2 };
}

function halfWay(
  time: (i: number) => number,
  i: number,
  neighbour: number,
  count: number,
  reach: { joined_s: number; alone_s: number },
): number {
  if (neighbour < 0 || neighbour >= count) return 0;
  const spacing = Math.abs(time(neighbour) - time(i));
  return spacing > reach.joined_s ? reach.alone_s : spacing / 2;
}
