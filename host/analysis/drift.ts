// Is a candidate edge a jump, or slow drift and noise cut in two? On each side a mean
// and a straight line are fitted to the ticks nearest the edge (60 at most, the nearest
// one skipped, since the edge may lie inside it). A jump must show in both: drift
// moves the means apart but not the lines. O(1) an edge, from running sums.

import type { Scale } from './scale.ts';

/** Ticks on each side that an edge is judged by: three holds. */
const REACH = 60;
/** Fewest ticks for a line of its own. */
const LINE_MIN = 12;
/** How sure a jump must be, in standard errors. 43 200 ticks a night leave no room for less. */
const SURE = 5;
/** Share of the wanted size that must remain when straight drift is taken off. */
const LINE_SHARE = 0.6;
/** Ticks' worth of the night's noise that is mixed into a segment's own estimate of it. */
const PRIOR = 8;
/** Drift in a gap that is no step, mA for each hour of it: as large as a step. */
const GAP_DRIFT_PER_STEP = 1 / 3600;

/** E|x1 - x2| of normal noise is 2 sigma / sqrt(pi). */
const ABS_DIFFERENCE = 2 / Math.sqrt(Math.PI);

export interface LocalFit {
  mean(from: number, to: number): number;
  /** Value at `at` of the least-squares line through ticks from..to-1. */
  line(from: number, to: number, at: number): number;
  /** Variance of one tick's noise around from..to-1, with what memory adds for longer means. */
  variance(from: number, to: number): number;
}

export function localFit(y: Float64Array, scale: Scale): LocalFit {
  const n = y.length;
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
    line(from, to, at) {
      const m = to - from;
      const centre = (from + to - 1) / 2;
      const spread = (m * (m * m - 1)) / 12;
      const slope = (moment[to]! - moment[from]! - centre * (sum[to]! - sum[from]!)) / spread;
      return mean(from, to) + slope * (at - centre);
    },
    variance(from, to) {
      const own = to - from > 1 ? rough[to]! - rough[from + 1]! : 0;
      const sigma = (own / ABS_DIFFERENCE + PRIOR * scale.sigma_mA) / (to - from - 1 + PRIOR);
      return sigma * sigma * scale.memory;
    },
  };
}

/** Stretch of ticks beside an edge that it is judged by. */
export function beside(from: number, to: number, left: boolean): [number, number] {
  const skip = to - from > 4 ? 1 : 0;
  return left ? [Math.max(from, to - skip - REACH), to - skip] : [from + skip, Math.min(to, from + skip + REACH)];
}

export interface Jump {
  /** Change of the mean across the edge. */
  size_mA: number;
  /** 1 or more where it counts as a jump of at least the wanted size. */
  strength: number;
}

/** The edge at tick `at`, between segments that start at `from` and end at `to`. `gap_s`: time without samples at the edge. */
export function jumpAt(fit: LocalFit, from: number, at: number, to: number, step_mA: number, gap_s: number): Jump {
  const [a, b] = beside(from, at, true);
  const [c, d] = beside(at, to, false);
  const size_mA = fit.mean(c, d) - fit.mean(a, b);
  const error = Math.sqrt(fit.variance(from, at) / (b - a) + fit.variance(at, to) / (d - c));
  const least = Math.max(0.9 * step_mA, step_mA - 2 * error);
  const wanted = Math.max(least, SURE * error) + step_mA * GAP_DRIFT_PER_STEP * gap_s;
  let strength = Math.abs(size_mA) / wanted;
  if (gap_s === 0 && b - a >= LINE_MIN && d - c >= LINE_MIN) {
    const left = fit.line(a, b, at - 0.5);
    const right = fit.line(c, d, at - 0.5);
    const kept = (right - left) * Math.sign(size_mA);
    strength = Math.min(strength, Math.max(0, kept) / (LINE_SHARE * wanted));
  }
  return { size_mA, strength };
}
