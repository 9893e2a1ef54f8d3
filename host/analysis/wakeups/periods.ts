// The period that starts keep, and how likely one that good would be by chance. A period is looked for
// among multiples: an interval may be several periods long, where members were missed or hidden. What is
// found is held against chance "a contrario": the expected number of periods as good among starts at
// random, which is the number of ways in which one was looked for times the probability of each
// (Desolneux, Moisan & Morel, "Meaningful Alignments", International Journal of Computer Vision 40, 2000).

import { median, quantile } from 'd3-array';
import type { Interval } from '../../contract/findings.ts';
import { studentQuantile } from '../levels/intervals.ts';

/** An interval fits k periods when it is within this share of a period of them. */
const FIT_SHARE = 0.15;
/** Share of all intervals that must fit, and share that must be a single period. */
const FITTING = 0.85;
const SINGLE = 0.4;
/** Fewest starts that can keep a period. */
const STARTS_MIN = 3;
/**
 * A period that is told comes by chance in one family of a hundred at most. Simulated, 20 000 runs each of 3 to
 * 40 starts at exponential intervals, with and without a rest between them, and at uniform ones: at most 0.5 %.
 */
const CHANCE_MAX = 0.01;
/** Random intervals crowd about their median more than evenly; by no more than this (the same runs). */
const CROWDED = 1.5;

/** A period, and the expected number of such periods among starts at random. */
export interface Period {
  period_s: number;
  chance: number;
  period_95_s: Interval;
}

/** Probability of k or more among n, each with probability q. O(n). */
function tailOf(n: number, k: number, q: number): number {
  if (k <= 0 || q >= 1) return 1;
  if (q <= 0) return 0;
  // The terms from n downwards, each from the one before it.
  let term = q ** n;
  let sum = term;
  for (let j = n; j > k; j--) {
    term *= (j / (n - j + 1)) * ((1 - q) / q);
    sum += term;
  }
  return Math.min(1, sum);
}

/** How many periods an interval is nearest to: one at least. */
const periodsIn = (interval_s: number, period_s: number) => Math.max(1, Math.round(interval_s / period_s));

/** The period near `guess_s` that fits these intervals best in the mean, some of them several periods long. */
function refined(intervals: readonly number[], guess_s: number): number | null {
  let period_s = guess_s;
  for (let round = 0; round < 4; round++) {
    let time_s = 0;
    let periods = 0;
    for (const interval of intervals) {
      const k = periodsIn(interval, period_s);
      if (Math.abs(interval - k * period_s) > 2 * FIT_SHARE * period_s) continue;
      time_s += interval;
      periods += k;
    }
    if (periods === 0 || time_s === 0) return null;
    period_s = time_s / periods;
  }
  return period_s;
}

/**
 * Probability that starts at random fit a period as well as these, in the best of the ways in which enough
 * of them can fit; 1 where they do not. One interval always fits, since the period is taken from them.
 */
function likelihoodOf(intervals: readonly number[], period_s: number, resolution_s: number, least: number): number {
  const single = intervals.filter((interval) => Math.round(interval / period_s) === 1).length;
  if (single < SINGLE * intervals.length) return 1;
  const misses = intervals
    .map((interval) => Math.abs(interval / period_s - periodsIn(interval, period_s)))
    .sort((a, b) => a - b);
  const free = intervals.length - 1;
  let best = 1;
  for (let k = least; k <= intervals.length; k++) {
    // Times are known to within a sample: what fits better than that fits by chance.
    const miss = Math.max(misses[k - 1]!, resolution_s / period_s);
    if (miss <= FIT_SHARE) best = Math.min(best, tailOf(free, k - 1, 2 * CROWDED * miss));
  }
  return best;
}

/**
 * 95 % interval of a period: from the spread of the intervals about whole periods of it, as if each began where the
 * last one ended. A clock that keeps its own time is known better than that. O(intervals).
 */
function periodInterval(intervals: readonly number[], period_s: number, resolution_s: number): Interval {
  let [squares, periods, fitting] = [0, 0, 0];
  for (const interval of intervals) {
    const k = periodsIn(interval, period_s);
    const miss = interval - k * period_s;
    if (Math.abs(miss) > FIT_SHARE * period_s) continue;
    squares += (miss * miss) / k;
    periods += k;
    fitting++;
  }
  // Starts are known to within a sample: two of them, each spread evenly over one.
  const variance =
    squares / Math.max(1, fitting - 1) / periods + (resolution_s * resolution_s) / 6 / (periods * periods);
  const half = studentQuantile(fitting - 1) * Math.sqrt(variance);
  return { low: period_s - half, high: period_s + half };
}

/**
 * The period of what starts at these times, some of it perhaps missed; null for fewer than three, and where
 * chance would give one as good in more than one of a hundred families. O(n log n).
 *
 * @param starts_s ascending
 * @param resolution_s how exactly they are known: the spacing of the samples
 */
export function periodOf(starts_s: readonly number[], resolution_s: number): Period | null {
  if (starts_s.length < STARTS_MIN) return null;
  const intervals = starts_s.slice(1).map((t, i) => t - starts_s[i]!);
  const middle = median(intervals)!;
  // Where many are missed, the median interval is two or three periods; where another family hides every third,
  // half of the intervals are two periods, and the shorter half is one.
  const guesses = [middle, middle / 2, middle / 3, quantile(intervals, 0.25)!];
  const least = Math.ceil(FITTING * intervals.length);
  const tried = guesses.length * (intervals.length - least + 1);
  let best: Period | null = null;
  for (const guess_s of guesses) {
    const period_s = refined(intervals, guess_s);
    if (period_s === null) continue;
    const chance = tried * likelihoodOf(intervals, period_s, resolution_s, least);
    if (chance <= CHANCE_MAX && (best === null || chance < best.chance))
      best = { period_s, chance, period_95_s: periodInterval(intervals, period_s, resolution_s) };
  }
  return best;
}
