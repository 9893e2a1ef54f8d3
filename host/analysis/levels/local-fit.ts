// What the ticks near a place look like: their mean, a straight line through them, and their noise,
// each in O(1) from running sums. And which ticks beside an edge to judge it by: the nearest 60 at
// most, without the very nearest one, since the edge may lie inside it.

import { differences, NORMAL_MAD, sortInPlace } from '../ticks/scale.ts';
import type { Scale } from '../ticks/scale.ts';

/** Ticks on each side that an edge is judged by: three holds. */
export const REACH_TICKS = 60;
/** Noise is taken around an edge in chunks of so many ticks; a longer segment speaks for itself. */
const CHUNK = 32;
/** Ticks' worth of the noise around it that is mixed into a segment's own. */
const PRIOR = 8;

/** E|x1 - x2| of normal noise is 2 sigma / sqrt(pi). */
const ABS_DIFFERENCE = 2 / Math.sqrt(Math.PI);

export interface LocalFit {
  mean(from: number, to: number): number;
  /** Value at `at` of the least-squares line through ticks from..to-1. */
  line(from: number, to: number, at: number): number;
  /** Variance of one tick's noise around from..to-1, with what memory adds for longer means. */
  variance(from: number, to: number): number;
  /** Smallest change that the samples show. */
  code_mA: number;
}

/** Running sum over chunks of the variance of a tick, from the median of |differences| in each. */
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
      // Its first and last tick may hold part of an edge, which is no noise.
      const inner = Math.max(0, m - 3);
      const own = inner > 0 ? rough[to - 1]! - rough[from + 2]! : 0;
      const sigma = (own / ABS_DIFFERENCE + PRIOR * Math.sqrt(around)) / (inner + PRIOR);
      // Short segments are cut where the noise happens to be calm.
      return (m < 2 * CHUNK ? Math.max(sigma * sigma, around) : sigma * sigma) * scale.memory;
    },
  };
}

/** Stretch of ticks beside an edge that it is judged by. */
export function ticksBeside(from: number, to: number, left: boolean): [number, number] {
  const skip = to - from > 4 ? 1 : 0;
  return left
    ? [Math.max(from, to - skip - REACH_TICKS), to - skip]
    : [from + skip, Math.min(to, from + skip + REACH_TICKS)];
}

/**
 * A level is read from up to so many times REACH_TICKS, and a longer stretch is believed while it differs from each shorter
 * by no more than so many standard errors.
 */
const WIDER_MAX = 16;
const WIDER_ERRORS = 3;

/**
 * The stretch that tells the current at one end of a steady segment best: the longest
 * whose mean agrees with those of all shorter ones, doubled from REACH_TICKS. Slow drift ends
 * it early, noise does not (Lepski 1990, "On a problem of adaptive estimation in
 * Gaussian white noise"). O(log ticks).
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
