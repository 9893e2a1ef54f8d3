// How certain a mean of ticks is. Noise is measured by differences of neighbours, which neither slow
// drift nor the level itself affects. Where noise is correlated, means are less certain than those of
// independent ticks, by a factor found from means of batches over the whole trace (batch means: Conway
// 1963, "Some tactical problems in digital simulation"; here on differences, as von Neumann 1941 takes
// a variance).

import type { Scale } from '../ticks/scale.ts';
import { tickAt } from '../ticks/ticks.ts';
import type { Ticks } from '../ticks/ticks.ts';

/**
 * Lengths of batch in ticks, tried in this order, and the fewest pairs of batches that a figure may
 * rest on.
 */
const BATCH_TICKS = [32, 8];
const PAIRS_MIN = 100;
/**
 * Most that one pair may count, as its squared distance over what independent ticks explain: a pair
 * farther apart holds something other than noise.
 */
const PAIR_MOST = 80;
/**
 * A variance from m differences is as certain as one from 2/3 m independent values (von Neumann et al.
 * 1941).
 */
const FREEDOM_PER_DIFFERENCE = 2 / 3;
/** Weight of the trace's overall noise in that of a short stretch, in differences: few ticks say little. */
const PRIOR = 4;

/** Ticks from..to-1. */
export type TickSpan = readonly [from: number, to: number];

/** Samples from..to-1. */
export interface SampleSpan {
  from: number;
  to: number;
}

/** The uncertainty of a mean. */
export interface MeanError {
  /** Variance of the mean, mA². */
  variance: number;
  /** Degrees of freedom of that variance. */
  freedom: number;
}

/**
 * The noise of a trace, as it bears on means and on the place of an edge. O(1) for each stretch asked
 * about.
 */
export interface Noise {
  /** Uncertainty of the mean over all ticks of these stretches. */
  ofMean(spans: readonly TickSpan[]): MeanError;
  /**
   * Long-run variance of one sample around a stretch, mA²: by how much the variance of a long sum grows
   * with each.
   */
  ofSample(span: TickSpan): number;
}

/**
 * The ticks that lie wholly in a run of samples; those that touch it where it is too short for that.
 * O(log ticks).
 */
export function innerTicks(ticks: Ticks, { from, to }: SampleSpan): TickSpan {
  const first = tickAt(ticks, from);
  const last = tickAt(ticks, to - 1);
  return last - first > 2 ? [first + 1, last] : [first, last + 1];
}

/** Running sum of squared differences of neighbours: element k + 1 holds those up to tick k. */
function squaresOf(y: Float64Array): Float64Array {
  const squares = new Float64Array(y.length + 1);
  for (let k = 0; k < y.length; k++) squares[k + 1] = squares[k]! + (k > 0 ? (y[k]! - y[k - 1]!) ** 2 : 0);
  return squares;
}

/** How much correlated noise adds to the variance of a mean. */
interface Memory {
  /** Variance of a long mean over that of independent ticks; 1 or more. */
  factor: number;
  freedom: number;
}

/** From pairs of batches with a third between them, so that neither is correlated with the other. */
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

/**
 * Measures the noise of a trace. O(ticks). Sources: Conway 1963, von Neumann 1941.
 *
 * @param y tick means, mA, with trains of pulses smoothed out
 * @param pieces runs of samples of about constant current, which the batches are taken from
 * @param scale noise of the whole trace, for stretches with few ticks
 */
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
