// A trace in memory as equal bins, at any zoom: what is drawn of a CSV, of a large night's
// coarse picture, and in the report. A capture's own blocks are thinned by overview.ts, without
// reading them all; both answer the same question.

import type { Bins, Trace } from '../../contract/capture.ts';
import { nothingYet, Pyramid } from './pyramid.ts';

/** A spacing above this many medians, and above `GAP_LEAST_S`, is a gap. */
export const GAP_MEDIANS = 5;
export const GAP_LEAST_S = 2;

export type BinsOf = (from_s: number, to_s: number, bins: number) => Bins;

/**
 * Prepares binning. Each sample stands for the time that it covers: a window for
 * its own length, a point for half the way to each neighbour (so that bin means
 * agree with the trapezoid rule), but never far into a gap.
 */
export function binsOf(trace: Trace): BinsOf {
  const count = trace.mean_mA.length;
  const time = timeAt(trace);
  const reach_s = trace.kind === 'points' ? pointReach(trace, count) : null;
  const startOf = (i: number) => (reach_s === null ? time(i) : time(i) - halfWay(time, i, i - 1, count, reach_s));
  const endOf = (i: number) =>
    reach_s === null ? time(i) + (trace.dur_s?.[i] ?? 0) : time(i) + halfWay(time, i, i + 1, count, reach_s);
  const { mean_mA: mean, min_mA, max_mA } = trace;
  const [min, max] = [min_mA ?? mean, max_mA ?? mean];
  const pyramid = new Pyramid({ count, mean, min, max, weightOf: (i) => endOf(i) - startOf(i) });

  return (from_s, to_s, bins) => {
    const width_s = (to_s - from_s) / bins;
    const means = new Float64Array(bins).fill(NaN),
      lows = new Float64Array(bins).fill(NaN),
      highs = new Float64Array(bins).fill(NaN);
    let first = firstPast(endOf, 0, count, from_s);
    for (let b = 0; b < bins; b++) {
      const low_s = from_s + b * width_s,
        high_s = low_s + width_s;
      first = firstPast(endOf, first, count, low_s);
      const last = firstFrom(startOf, first, count, high_s);
      const all = nothingYet();
      // Samples that reach over the bin's edges count by their part in it; those between, whole.
      const part = (i: number) => {
        const covered = Math.min(endOf(i), high_s) - Math.max(startOf(i), low_s);
        if (!(covered > 0)) return;
        all.weight += covered;
        all.sum += covered * mean[i]!;
        all.min = Math.min(all.min, min[i]!);
        all.max = Math.max(all.max, max[i]!);
      };
      let inner = first,
        outer = last;
      while (inner < outer && startOf(inner) < low_s) part(inner++);
      while (outer > inner && endOf(outer - 1) > high_s) part(--outer);
      pyramid.gather(inner, outer, all);
      if (!(all.weight > 0)) continue;
      means[b] = all.sum / all.weight;
      lows[b] = all.min;
      highs[b] = all.max;
    }
    return {
      t_s: Float64Array.from({ length: bins }, (_, b) => from_s + b * width_s),
      mean: means,
      min: lows,
      max: highs,
    };
  };
}

function timeAt(trace: Trace): (i: number) => number {
  const axis = trace.time;
  return axis.kind === 'regular' ? (i) => i * axis.step_s : (i) => axis.t_s[i]!;
}

/** First sample at or after `from` whose end lies after `t_s`; samples ascend. */
function firstPast(endOf: (i: number) => number, from: number, count: number, t_s: number): number {
  return firstThat((i) => endOf(i) > t_s, from, count);
}

/** First sample at or after `from` that does not begin before `t_s`. */
function firstFrom(startOf: (i: number) => number, from: number, count: number, t_s: number): number {
  return firstThat((i) => startOf(i) >= t_s, from, count);
}

/** Looks in growing strides first: the next bin's samples are mostly near. */
function firstThat(is: (i: number) => boolean, from: number, count: number): number {
  let low = from,
    high = from;
  for (let stride = 1; high < count && !is(high); stride *= 2) {
    low = high + 1;
    high += stride;
  }
  high = Math.min(high, count);
  while (low < high) {
    const middle = (low + high) >> 1;
    if (is(middle)) high = middle;
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
