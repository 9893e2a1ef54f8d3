// The definition of a wake-up, with its threshold: a rise that comes back to the level before it,
// or below, however long it lasts. To change what counts as a wake-up, change this file.
//
// Rises that have not come back are open. A fall to the base of an open rise ends it and all rises
// opened since; the outermost of them that climbs high enough is the wake-up, and the others are
// part of it. A small rise that is held is a step, and what rises from it is measured from its
// level: several such rises make no wake-up together, however high they climb. Where a wake-up
// follows a held rise and outlasts it, the held rise is its beginning and not a step.
//
// How near counts as back: excursion.ts. Steps: levels/step.ts. Pulses that follow one another within
// a few seconds are a train, which is part of its level and no wake-up: levels/trains.ts.

import { departureOf, lasting_s, nearness_mA } from './excursion.ts';
import type { Excursion, ExcursionContext } from './excursion.ts';

/** A wake-up of exactly the smallest rise may measure as little as this share of it. */
const RISE_SHARE = 0.95;

/**
 * The least that a rise may measure and still count as a wake-up, mA.
 *
 * @param rise_mA smallest rise, as set in the options
 */
export function leastRise_mA(rise_mA: number): number {
  return RISE_SHARE * rise_mA;
}

/** A rise that has not come back: its first piece, and the level before it. */
export interface OpenRise {
  first: number;
  base_mA: number;
}

/**
 * The rise that piece j (1 or more) begins, null where it does not lie above the end of the piece
 * before it. O(1).
 */
export function riseAt({ pieces }: ExcursionContext, j: number): OpenRise | null {
  const base_mA = pieces[j - 1]!.end_mA;
  return pieces[j]!.start_mA > base_mA ? { first: j, base_mA } : null;
}

/** Where a slowly sinking piece has come back to the base of an open rise. */
export interface SlowReturn {
  base_mA: number;
  /** The current that counts as back. */
  back_mA: number;
  /** First sample at or below it. */
  sample: number;
}

/**
 * Where piece j, which sinks slowly, comes back to the base of an open rise; null where it does not,
 * or does so at one of its ends. O(open rises).
 *
 * @param open rises that have not come back, innermost last
 */
export function slowReturnIn(context: ExcursionContext, open: readonly OpenRise[], j: number): SlowReturn | null {
  const piece = context.pieces[j]!;
  if (piece.pulse) return null;
  for (let k = open.length - 1; k >= 0; k--) {
    const { first, base_mA } = open[k]!;
    const near_mA = nearness_mA(context, context.pieces[first - 1]!, piece);
    const back_mA = base_mA + near_mA;
    if (piece.end_mA > back_mA) return null;
    if (piece.start_mA - piece.end_mA < near_mA || piece.start_mA <= back_mA) continue;
    const sample = context.options.reaches(piece, back_mA);
    return sample > piece.from && sample < piece.to ? { base_mA, back_mA, sample } : null;
  }
  return null;
}

/** How near to the base of a rise piece j must be to have come back to it. */
function nearToBase_mA(context: ExcursionContext, rise: OpenRise, j: number): number {
  return nearness_mA(context, context.pieces[rise.first - 1]!, context.pieces[j]!);
}

/**
 * Takes off the stack `open` the rises that piece j has come back from, and returns them outermost
 * first; empty where there is none. O(rises ended).
 */
export function endRises(context: ExcursionContext, open: OpenRise[], j: number): OpenRise[] {
  const piece = context.pieces[j]!;
  const value_mA = piece.pulse ? piece.mean_mA : Math.min(piece.start_mA, piece.end_mA);
  let kept = open.length;
  while (kept > 0 && value_mA <= open[kept - 1]!.base_mA + nearToBase_mA(context, open[kept - 1]!, j)) kept--;
  return open.splice(kept);
}

/**
 * The wake-up among rises that ended together at piece j: the outermost that climbs by the smallest
 * rise, unless it does so only from a level that it held for longer than what follows. Null where
 * none does. O(pieces in it x rises).
 *
 * @param ended the rises, outermost first
 */
export function wakeUpAmong(context: ExcursionContext, ended: readonly OpenRise[], j: number): Excursion | null {
  const least_mA = leastRise_mA(context.options.rise_mA);
  for (const rise of ended) {
    const { first, base_mA } = rise;
    const far = departureOf(context, 1, first, j, base_mA, least_mA);
    if (far === null) continue;
    if (far.fromHeld && lasting_s(context, first, far.piece) > lasting_s(context, far.piece, j)) continue;
    return { kind: 'wakeup', first, end: j, base_mA, near_mA: nearToBase_mA(context, rise, j) };
  }
  return null;
}
