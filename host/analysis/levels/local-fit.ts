// What the ticks near a place look like: their mean, a straight line through them, and their noise,
// each in O(1) from running sums. And which ticks beside an edge to judge it by: the nearest 60 at
// most, without the very nearest one, since the edge may lie inside it.

import { differences, NORMAL_MAD, sortInPlace } from '../ticks/scale.ts';
import type { Scale } from '../ticks/scale.ts';

/** Ticks on each side that an edge is judged by: three times the shortest hold. */
export const REACH_TICKS = 60;
/** Ticks in a chunk, the unit in which noise around an edge is measured; longer segments use their own. */
const CHUNK = 32;
/** Weight of the noise around a segment in its own, in ticks. */
const PRIOR = 8;

/** E|x1 - x2| of normal noise is 2 sigma / sqrt(pi). */
const ABS_DIFFERENCE = 2 / Math.sqrt(Math.PI);

/** Means, lines and noise of any ticks from..to-1, in mA. Each question is O(1). */
export interface LocalFit {
  mean(from: number, to: number): number;
  /** Value at tick `at` of the least-squares line through the ticks. */
  line(from: number, to: number, at: number): number;
  /** Variance of one tick's noise, mA², with what correlation adds to it in longer means. */
  variance(from: number, to: number): number;
  /** Smallest change that the samples show. */
  code_mA: number;
}

/** Running sum over chunks of the variance of a tick, from the median absolute difference in each. */
function chunkVariances(y: Float64Array, floor_mA: number): Float64Array {
  const count = Math.max(1, Math.ceil(y.length / CHUNK));
  const sum = new Float64Array(count + 1);
  for (let c = 0; c < count; c++) {
    const from = Math.max(1, c * CHUNK);
    const steps = differences(y.subarray(from - 1, Math.min(y.length, (c + 1) * CHUNK)));
    for (let i = 0; i < steps.length; i++) steps[i] = Math.abs(steps[i]!);
    sortInPlace(steps);
    const sigma = Math.max(floor_mA, (NORMAL_MAD * (steps[steps.length >> 1] ?? 0)) / Math.SQRT2);
    sum[c + 1] = sum[c]! + sigma * sigma;
  }
  return sum;
}

/** Prepares the questions about the ticks whose means are `y`, mA. O(ticks). */
export function localFit(y: Float64Array, scale: Scale): LocalFit {
  const n = y.length;
  const chunks = chunkVariances(y, scale.sigma_mA / 2);
  const sum = new Float64Array(n + 1);
  const moment = new Float64Array(n + 1);
  const rough = new Float64Array(n + 1);
  for (let i = 0; i < n; i++) {
    sum[i + 1] = sum[i]! + y[i]!;
    moment[i + 1] = moment[i]! + i * y[i]!;
    rough[i + 1] = rough[i]! + (i > 0 ? Math.abs(y[i]! - y[i - 1]!) : 0);
  }
  const mean = (from: number, to: number) => (sum[to]! - sum[from]!) / (to - from);
  return {
    mean,
    code_mA: scale.code_mA,
    line(from, to, at) {
      const m = to - from;
      const centre = (from + to - 1) / 2;
      const spread = (m * (m * m - 1)) / 12;
      const slope = (moment[to]! - moment[from]! - centre * (sum[to]! - sum[from]!)) / spread;
      return mean(from, to) + slope * (at - centre);
    },
    variance(from, to) {
      const first = Math.floor(from / CHUNK);
      const end = Math.max(first + 1, Math.ceil(to / CHUNK));
      const around = (chunks[end]! - chunks[first]!) / (end - first);
      const m = to - from;
      // The first and last tick may hold part of an edge, which is no noise.
      const inner = Math.max(0, m - 3);
      const own = inner > 0 ? rough[to - 1]! - rough[from + 2]! : 0;
      const sigma = (own / ABS_DIFFERENCE + PRIOR * Math.sqrt(around)) / (inner + PRIOR);
      // Short segments tend to be cut where the noise happens to be low.
      return (m < 2 * CHUNK ? Math.max(sigma * sigma, around) : sigma * sigma) * scale.memory;
    },
  };
}

/**
 * The ticks of the segment from..to-1 that an edge at one of its ends is judged by: the nearest
 * `REACH_TICKS`, without the very nearest one where the segment has more than four. O(1).
 *
 * @param left true where the segment lies before the edge
 */
export function ticksBeside(from: number, to: number, left: boolean): [number, number] {
  const skip = to - from > 4 ? 1 : 0;
  return left
    ? [Math.max(from, to - skip - REACH_TICKS), to - skip]
    : [from + skip, Math.min(to, from + skip + REACH_TICKS)];
}

/**
 * The current of a level is taken from up to this many times `REACH_TICKS`, as long as the mean of the
 * longer stretch differs from that of each shorter one by at most this many standard errors.
 */
const WIDER_MAX = 16;
const WIDER_ERRORS = 3;

/**
 * The ticks that show the current at one end of the segment from..to-1 best: the longest stretch,
 * doubled from `REACH_TICKS`, whose mean agrees with those of all shorter ones. Slow drift ends it
 * early, noise does not. O(1), since the number of doublings is bounded. Source: Lepski 1990, "On a
 * problem of adaptive estimation in Gaussian white noise".
 *
 * @param left true for the end of the segment, where it lies before an edge; false for its start
 */
export function steadyTicksBeside(fit: LocalFit, from: number, to: number, left: boolean): [number, number] {
  let [a, b] = ticksBeside(from, to, left);
  const end = left ? Math.max(from, b - WIDER_MAX * REACH_TICKS) : Math.min(to, a + WIDER_MAX * REACH_TICKS);
  const variance = fit.variance(from, to);
  const shorter: { mean_mA: number; ticks: number }[] = [];
  while (left ? a > end : b < end) {
    shorter.push({ mean_mA: fit.mean(a, b), ticks: b - a });
    const [wideFrom, wideTo] = left ? [Math.max(end, b - 2 * (b - a)), b] : [a, Math.min(end, a + 2 * (b - a))];
    const wide_mA = fit.mean(wideFrom, wideTo);
    const ticks = wideTo - wideFrom;
    if (
      shorter.some(
        (s) => Math.abs(s.mean_mA - wide_mA) > WIDER_ERRORS * Math.sqrt(variance * (1 / s.ticks - 1 / ticks)),
      )
    )
      break;
    [a, b] = [wideFrom, wideTo];
  }
  return [a, b];
}
