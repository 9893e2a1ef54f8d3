// 95 % intervals of levels and steps. The size of a step is a difference of two means, each with its
// own noise (Welch 1947). Its time comes from the probability of each place for the edge, all places
// being equally likely beforehand (Smith 1975, "A Bayesian approach to inference about a change-point
// in a sequence of random variables", Biometrika 62), with the long-run variance in place of the
// variance where noise is correlated (Bai 1997, "Estimation of a change point in multiple regression
// models"). Noise alone is considered, not the calibration of the board.

import type { Samples } from '../../contract/capture.ts';
import type { Interval, Step } from '../../contract/findings.ts';
import type { MeanError, Noise } from './noise.ts';
import type { Piece } from './pieces.ts';
import type { Edge } from './staircase.ts';
import type { Timeline } from '../ticks/timeline.ts';

/** Probability left outside an interval, both sides together. */
const OUTSIDE = 0.05;
/** Most places examined on each side of an edge: enough for a step of a tenth of a sample's noise. */
const PLACES_MAX = 4000;
/** The search ends at a place less likely than the start by this power of e. */
const UNLIKELY = 30;
/** Codes by which a current that never changes by a whole code may be off, to each side. */
const HALF = 0.5;

/**
 * Quantile of Student's t at 97.5 %, within 1 % from 3 degrees of freedom on; fewer than 1 count as
 * 1. O(1). Source: Cornish and Fisher's expansion, Abramowitz and Stegun 26.7.5.
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

/**
 * 95 % interval of a level, mA, from the uncertainty of its mean and from Student's t. O(1).
 *
 * @param code_mA smallest change that the samples show: a steady current may be off by half of it
 */
export function levelInterval(level_mA: number, { variance, freedom }: MeanError, code_mA: number): Interval {
  const half = studentQuantile(freedom) * Math.sqrt(variance + (HALF * code_mA) ** 2 / 3);
  return { low: level_mA - half, high: level_mA + half };
}

/** 95 % interval of a change of level, mA, from the uncertainty of the means on both sides (Welch 1947). */
function changeInterval(change_mA: number, before: MeanError, after: MeanError, code_mA: number): Interval {
  const variance = before.variance + after.variance;
  const welch = before.variance ** 2 / before.freedom + after.variance ** 2 / after.freedom;
  const freedom = welch > 0 ? variance ** 2 / welch : Infinity;
  const half = studentQuantile(freedom) * Math.sqrt(variance + (2 * (HALF * code_mA) ** 2) / 3);
  return { low: change_mA - half, high: change_mA + half };
}

/** An edge, and the samples among which it may lie. */
interface EdgePlace {
  /** First sample of the new level. */
  sample: number;
  before_mA: number;
  after_mA: number;
  /** Samples from..to-1 hold no other edge. */
  from: number;
  to: number;
}

/** Log likelihood of the edge at each place from sample `first` on, relative to that at `place.sample`. */
function likelihoods(samples: Samples, place: EdgePlace, variance: number): { first: number; values: number[] } {
  const { sample, before_mA, after_mA, from, to } = place;
  const middle = (before_mA + after_mA) / 2;
  const change = after_mA - before_mA;
  const reach = Math.abs(change) / 2;
  // How much likelier it gets when sample i counts to the new level and not to the old one.
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

/** First and last index of the places that leave at most half of OUTSIDE on each side. */
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
 * 95 % interval of the time of an edge, s. Between two points the edge may be anywhere; a window that
 * it cuts counts to the level that fills more of it, so that it is off by half a window at most.
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

/** The intervals of a step. */
export type StepDoubt = Pick<Step, 't_95_s' | 'change_95_mA'>;

/** What the intervals of a trace are computed from. `code_mA`: smallest change that its samples show. */
export interface Doubts {
  samples: Samples;
  line: Timeline;
  noise: Noise;
  code_mA: number;
}

/**
 * The pieces that a step lies between: `last` of the level before it, `first` of the level after it,
 * and the two pieces on both sides of the edge itself.
 */
export interface StepPieces {
  last: Piece;
  first: Piece;
  edge: readonly [Piece, Piece];
}

/**
 * 95 % intervals of a step's time and size. O(samples around the edge). Sources: Welch 1947, Smith
 * 1975, Bai 1997.
 */
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

/** A stretch whose charge is measured over a level: what it is made of, and the level. */
export interface ChargedSpan {
  /** Pieces of it. */
  pieces: readonly Piece[];
  /** Of the level before it, at its end. */
  before: Piece;
  /** Seconds of samples in it. */
  covered_s: number;
  /** Currents over the level where it begins and ends, mA. */
  entry_mA: number;
  exit_mA: number;
}

/**
 * 95 % interval of a charge over a level, mAh: the noise of its own samples, the uncertainty of the level over all
 * its length, and for points the place of its two edges between two of them, as likely anywhere. O(pieces).
 */
export function chargeInterval(
  { line, noise, code_mA }: Doubts,
  charge_mAh: number,
  { pieces, before, covered_s, entry_mA, exit_mA }: ChargedSpan,
): Interval {
  const spacing_s = line.spacing_s;
  const level = noise.ofMean([before.endOver]);
  let own_mAs2 = 0;
  for (const piece of pieces) own_mAs2 += (piece.to - piece.from) * noise.ofSample(piece.startOver) * spacing_s ** 2;
  const edges_mAs2 = line.windows ? 0 : ((entry_mA ** 2 + exit_mA ** 2) * spacing_s ** 2) / 12;
  const level_mAs2 = covered_s ** 2 * (level.variance + (HALF * code_mA) ** 2 / 3);
  const half = (studentQuantile(level.freedom) * Math.sqrt(own_mAs2 + edges_mAs2 + level_mAs2)) / 3600;
  return { low: charge_mAh - half, high: charge_mAh + half };
}
