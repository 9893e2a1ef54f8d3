// How sure a mean of ticks is. Noise is taken from differences of neighbours, which
// slow drift and the level itself leave alone; noise that remembers itself makes means
// less sure than independent ticks would, by a factor found from means of batches over
// the whole trace (batch means: Conway 1963, "Some tactical problems in digital
// simulation"; here on differences, as von Neumann 1941 takes a variance). O(ticks).

import type { Scale } from '../ticks/scale.ts';
import { tickAt } from '../ticks/ticks.ts';
import type { Ticks } from '../ticks/ticks.ts';

/** Batches tried, longest first, and how many pairs of them are needed for a figure to be believed. */
const BATCH_TICKS = [32, 8];
const PAIRS_MIN = 100;
/**
 * A pair whose squared distance is more times what independent ticks explain holds something else: it counts as so
 * much.
 */
const PAIR_MOST = 80;
/** A variance from differences of m independent values is as sure as one from 2/3 of them (von Neumann et al. 1941). */
const FREEDOM_PER_DIFFERENCE = 2 / 3;
/** Differences' worth of the trace's own noise that is mixed into a stretch's: few ticks tell little. */
const PRIOR = 4;

/** Ticks from..to-1. */
export type TickSpan = readonly [from: number, to: number];

/** Samples from..to-1. */
export interface SampleSpan {
  from: number;
  to: number;
}

export interface MeanError {
  /** Variance of the mean, mA². */
  variance: number;
  /** Degrees of freedom of that variance. */
  freedom: number;
}

export interface Noise {
  /** Of the mean over all ticks of these stretches. */
  ofMean(spans: readonly TickSpan[]): MeanError;
  /** Long-run variance of one sample around a stretch, mA²: what a sum of many grows by with each. */
  ofSample(span: TickSpan): number;
}

/** Ticks that lie wholly in a piece. */
export function innerTicks(ticks: Ticks, { from, to }: SampleSpan): TickSpan {
  const first = tickAt(ticks, from);
  const last = tickAt(ticks, to - 1);
  return last - first > 2 ? [first + 1, last] : [first, last + 1];
}

/** Running sum of squared differences of neighbours; `squares[k]` is that before tick k. */
function squaresOf(y: Float64Array): Float64Array {
  const squares = new Float64Array(y.length + 1);
  for (let k = 0; k < y.length; k++) squares[k + 1] = squares[k]! + (k > 0 ? (y[k]! - y[k - 1]!) ** 2 : 0);
  return squares;
}

interface Memory {
  /** How many times the variance of a long mean is that of independent ticks; 1 or more. */
  factor: number;
  freedom: number;
}

/** From batches with one between them, which remembers for both. */
function memoryOf(y: Float64Array, squares: Float64Array, spans: readonly TickSpan[]): Memory {
  const sums = new Float64Array(y.length + 1);
  for (let k = 0; k < y.length; k++) sums[k + 1] = sums[k]! + y[k]!;
  for (const size of BATCH_TICKS) {
    let sum = 0;
    let pairs = 0;
    for (const [from, to] of spans) {
      const own = (squares[to]! - squares[from + 1]!) / (2 * (to - from - 1));
      if (!(own > 0)) continue;
      for (let k = from; k + 3 * size <= to; k += size) {
        const apart = (sums[k + 3 * size]! - sums[k + 2 * size]! - sums[k + size]! + sums[k]!) / size;
        sum += Math.min(PAIR_MOST, (size * apart * apart) / (2 * own));
        pairs++;
      }
    }
    if (pairs >= PAIRS_MIN) return { factor: Math.max(1, sum / pairs), freedom: FREEDOM_PER_DIFFERENCE * pairs };
  }
  return { factor: 1, freedom: Infinity };
}

/** @param y tick means, trains of pulses smoothed out */
export function noiseOf(y: Float64Array, ticks: Ticks, pieces: readonly SampleSpan[], scale: Scale): Noise {
  const squares = squaresOf(y);
  const memory = memoryOf(
    y,
    squares,
    pieces.map((piece) => innerTicks(ticks, piece)),
  );
  const usual = scale.sigma_mA * scale.sigma_mA;
  const tickVariance = (spans: readonly TickSpan[]): { variance: number; differences: number; count: number } => {
    let sum = 0,
      differences = 0,
      count = 0;
    for (const [from, to] of spans) {
      count += to - from;
      if (to - from < 2) continue;
      sum += squares[to]! - squares[from + 1]!;
      differences += to - from - 1;
    }
    const mixed = Math.max(0, PRIOR - differences / PRIOR);
    return { variance: (sum / 2 + mixed * usual) / (differences + mixed), differences: differences + mixed, count };
  };
  return {
    ofMean(spans) {
      const { variance, differences, count } = tickVariance(spans);
      return {
        variance: (variance * memory.factor) / Math.max(1, count),
        freedom: Math.max(1, 1 / (1 / (FREEDOM_PER_DIFFERENCE * differences) + 1 / memory.freedom)),
      };
    },
    ofSample: (span) => tickVariance([span]).variance * memory.factor * ticks.size,
  };
}
