// How sure each level and step is: 95 % intervals. A size is a difference of two means,
// each with its own noise (Welch 1947); a time has the probability of each place for the
// edge, were all equally likely before (Smith 1975, "A Bayesian approach to inference
// about a change-point in a sequence of random variables", Biometrika 62), with the
// long-run variance in place of the variance where noise remembers itself (Bai 1997,
// "Estimation of a change point in multiple regression models"). O(samples around an edge).

import type { Samples } from '../../contract/capture.ts';
import type { Interval, Step } from '../../contract/findings.ts';
import type { MeanError, Noise } from './noise.ts';
import type { Piece } from './pieces.ts';
import type { Edge } from './staircase.ts';
import type { Timeline } from '../ticks/timeline.ts';

/** What is left out on both sides together. */
const OUTSIDE = 0.05;
/** Places looked at on each side of an edge: enough for a step of a tenth of a sample's noise. */
const PLACES_MAX = 4000;
/** Places this much less likely than the best, as a power of e, end the search. */
const UNLIKELY = 30;
/** Half of a code on each side: what is steadier than a code may be off by that. */
const HALF = 0.5;

/**
 * Quantile of Student's t at 1 - OUTSIDE / 2, by Cornish and Fisher's expansion
 * (Abramowitz and Stegun 26.7.5); from 3 degrees of freedom on within 1 %.
 */
export function studentQuantile(freedom: number): number {
  const x = 1.959963984540054;
  const n = Math.max(freedom, 1);
  const x2 = x * x;
  const g1 = (x * (x2 + 1)) / 4;
  const g2 = (x * (x2 * (5 * x2 + 16) + 3)) / 96;
  const g3 = (x * (x2 * (x2 * (3 * x2 + 19) + 17) - 15)) / 384;
  const g4 = (x * (x2 * (x2 * (x2 * (79 * x2 + 776) + 1482) - 1920) - 945)) / 92160;
  return x + g1 / n + g2 / n ** 2 + g3 / n ** 3 + g4 / n ** 4;
}

/** @param code_mA smallest change that the samples show: what never changes by one may be off by half of it */
export function levelInterval(level_mA: number, { variance, freedom }: MeanError, code_mA: number): Interval {
  const half = studentQuantile(freedom) * Math.sqrt(variance + (HALF * code_mA) ** 2 / 3);
  return { low: level_mA - half, high: level_mA + half };
}

function changeInterval(change_mA: number, before: MeanError, after: MeanError, code_mA: number): Interval {
  const variance = before.variance + after.variance;
  const welch = before.variance ** 2 / before.freedom + after.variance ** 2 / after.freedom;
  const freedom = welch > 0 ? variance ** 2 / welch : Infinity;
  const half = studentQuantile(freedom) * Math.sqrt(variance + (2 * (HALF * code_mA) ** 2) / 3);
  return { low: change_mA - half, high: change_mA + half };
}

interface EdgePlace {
  /** First sample of the new level. */
  sample: number;
  before_mA: number;
  after_mA: number;
  /** Samples that may belong to it: none of another edge. */
  from: number;
  to: number;
}

/**
 * Log likelihood of the edge lying at each sample of [sample - left, sample + right], against its lying at `sample`.
 */
function likelihoods(samples: Samples, place: EdgePlace, variance: number): { first: number; values: number[] } {
  const { sample, before_mA, after_mA, from, to } = place;
  const middle = (before_mA + after_mA) / 2;
  const change = after_mA - before_mA;
  const reach = Math.abs(change) / 2;
  // A sample counted to the new level rather than to the old one makes it so much likelier.
  const gain = (i: number) =>
    (change * Math.sign(samples[i]! - middle) * Math.min(reach, Math.abs(samples[i]! - middle))) / variance;
  const side = (end: number, way: -1 | 1): number[] => {
    const out: number[] = [];
    let sum = 0;
    for (let k = 0; k < PLACES_MAX && (way < 0 ? sample - k > end : sample + k < end) && sum > -UNLIKELY; k++) {
      sum += way < 0 ? gain(sample - k - 1) : -gain(sample + k);
      out.push(sum);
    }
    return out;
  };
  const left = side(Math.max(from, 0), -1);
  return { first: sample - left.length, values: [...left.reverse(), 0, ...side(to, 1)] };
}

/** The shortest run of places around the likeliest that leaves no more than half of OUTSIDE on each side. */
function credible(values: readonly number[]): [number, number] {
  const most = Math.max(...values);
  const weights = values.map((value) => Math.exp(value - most));
  const left = (weights.reduce((a, b) => a + b, 0) * OUTSIDE) / 2;
  const cut = (order: readonly number[]): number => {
    let sum = 0;
    for (let k = 0; k < order.length; k++) if ((sum += order[k]!) > left) return k;
    return order.length - 1;
  };
  return [cut(weights), weights.length - 1 - cut([...weights].reverse())];
}

/**
 * When the edge was. Between two points it may be anywhere; a window that it cuts
 * belongs to the level that has more of it, so it is half a window off at most.
 */
function timeInterval(samples: Samples, line: Timeline, place: EdgePlace, variance: number): Interval {
  const { first, values } = likelihoods(samples, place, Math.max(variance, 1e-12));
  const [a, b] = credible(values);
  const [low, high] = [first + a, first + b];
  const before = Math.max(0, low - 1);
  if (!line.windows) return { low: line.at(before), high: line.at(high) };
  const last = Math.min(high, line.samples - 1);
  return {
    low: Math.min(line.at(low), line.at(before) + line.lasts(before)) - line.lasts(before) / 2,
    high: line.at(high) + line.lasts(last) / 2,
  };
}

export type StepDoubt = Pick<Step, 't_95_s' | 'change_95_mA'>;

/** All that the intervals of a trace are made from. */
export interface Doubts {
  samples: Samples;
  line: Timeline;
  noise: Noise;
  code_mA: number;
}

/**
 * The pieces that a step is between: `last` of the level before it, `first` of the one after, and which two the edge
 * itself lies in.
 */
export interface StepPieces {
  last: Piece;
  first: Piece;
  edge: readonly [Piece, Piece];
}

export function stepDoubt(
  { samples, line, noise, code_mA }: Doubts,
  { sample, from_mA, to_mA }: Edge,
  { last, first, edge }: StepPieces,
): StepDoubt {
  const [before, after] = edge;
  const variance = Math.max(noise.ofSample(last.endOver), noise.ofSample(first.startOver));
  const place = { sample, before_mA: before.end_mA, after_mA: after.start_mA, from: before.from, to: after.to };
  return {
    t_95_s: timeInterval(samples, line, place, variance),
    change_95_mA: changeInterval(
      to_mA - from_mA,
      noise.ofMean([last.endOver]),
      noise.ofMean([first.startOver]),
      code_mA,
    ),
  };
}
