// What wake-ups and dips have in common: both are excursions, runs of pieces that leave a level
// and come back to it. Here are the measures that both definitions use: how long pieces last, how
// near to a level counts as back, and where pieces get far enough away from it.

import type { Piece } from '../levels/pieces.ts';
import { isHeld, SAME_ERRORS } from '../levels/step.ts';

/** A wake-up or a dip, as pieces first..end-1; piece `end` is the one that has come back. */
export interface Excursion {
  kind: 'wakeup' | 'dip';
  first: number;
  end: number;
  /** The level before it. */
  base_mA: number;
  /** How near to the base counts as back. */
  near_mA: number;
}

/** The settings that excursions are found with, and what the search needs to know about the samples. */
export interface ExcursionOptions {
  /** Smallest step. */
  step_mA: number;
  /** Smallest rise that counts as a wake-up. */
  rise_mA: number;
  /** Shortest hold of a level. */
  hold_s: number;
  /** Start of a sample, s. */
  at: (sample: number) => number;
  /** First sample of a sinking piece that is at or below a current. */
  reaches: (piece: Piece, current_mA: number) => number;
  /** True for single points, which are instants: one alone at the base does not end a wake-up. */
  points: boolean;
}

/**
 * What the definitions of wake-up and dip judge by: the pieces of the trace and what was found among
 * them so far.
 */
export interface ExcursionContext {
  readonly pieces: Piece[];
  /** 1 for each piece that lies in an excursion found so far, else 0. */
  readonly inside: number[];
  readonly options: ExcursionOptions;
}

/** Seconds from the start of piece `first` to the end of piece `end - 1`, gaps included. O(1). */
export function lasting_s({ pieces, options }: ExcursionContext, first: number, end: number): number {
  return options.at(pieces[end - 1]!.to) - options.at(pieces[first]!.from);
}

/**
 * How near the currents of two pieces must be to count as the same level, mA: the smallest step, or
 * more where their noise asks for it. O(1).
 */
export function nearness_mA({ options }: ExcursionContext, a: Piece, b: Piece): number {
  // The calmer noise of the two: a fall in progress looks noisy, but blurs no level.
  const noise_mA = Math.min(a.noise_mA, b.noise_mA);
  return Math.max(options.step_mA, SAME_ERRORS * noise_mA * Math.sqrt(1 / a.ticks + 1 / b.ticks));
}

/** Where an excursion first gets far away from its level. */
export interface Departure {
  piece: number;
  /** True when it got there from a level held on the way, not from the level before the excursion. */
  fromHeld: boolean;
}

/**
 * Where pieces first..end-1 first rise (fall) by `least_mA`, null where they never do. They start
 * from `from_mA`; a level held on the way becomes the level that later pieces are measured from.
 * Pieces inside excursions found before do not count. O(pieces).
 *
 * @param sign 1 for rises, -1 for falls
 */
export function departureOf(
  context: ExcursionContext,
  sign: 1 | -1,
  first: number,
  end: number,
  from_mA: number,
  least_mA: number,
): Departure | null {
  let level_mA = from_mA;
  let fromHeld = false;
  for (let k = first; k < end; k++) {
    if (context.inside[k] !== 0) continue;
    const { start_mA, end_mA } = context.pieces[k]!;
    if (Math.max(sign * start_mA, sign * end_mA) - sign * level_mA >= least_mA) return { piece: k, fromHeld };
    if (!isHeld(lasting_s(context, k, k + 1), context.options.hold_s)) continue;
    level_mA = end_mA;
    fromHeld = true;
  }
  return null;
}
