// The definition of a dip, with its thresholds: a fall that comes back. To change what counts as a
// dip, change this file.
//
// Going to sleep is a fall too, and a later wake-up passes the level before it. So a fall is a dip
// only where it is short beside the time at the level before it and after it, and comes back to that
// level, not merely past it. It must fall as far as a wake-up must rise (wakeup.ts). How near counts
// as back: excursion.ts.

import { departureOf, lasting_s, nearness_mA } from './excursion.ts';
import type { ExcursionContext } from './excursion.ts';
import { leastRise_mA } from './wakeup.ts';

/** Longest dip, as a share of the time at its level before it. */
const DIP_SHARE = 0.5;
/** After a dip its level must hold for this share of the time, looked at over so many lengths of the dip. */
const DIP_AFTER_SHARE = 0.5;
const DIP_AFTER_LENGTHS = 4;
/** How near to its level a dip must come back, as a share of its depth. */
const DIP_BACK_SHARE = 0.02;
/**
 * How much the points beside a lost point may differ, as a share of its depth, on top of what noise
 * allows.
 */
const LOST_POINT_SHARE = 0.1;

/**
 * True when piece j is a single low point between two that are alike: a lost value and not the end
 * of a wake-up. Such a point is a dip by itself. Always false for windows. O(1).
 */
export function isLostPoint(context: ExcursionContext, j: number): boolean {
  const { pieces, options } = context;
  const piece = pieces[j]!;
  const after = pieces[j + 1];
  if (!options.points || piece.to - piece.from > 1 || after === undefined) return false;
  const before = pieces[j - 1]!;
  return (
    Math.abs(after.start_mA - before.end_mA) <=
    nearness_mA(context, before, after) + LOST_POINT_SHARE * Math.abs(before.end_mA - piece.start_mA)
  );
}

/**
 * Seconds at or above `level_mA` before piece j, counted up to `enough_s`; pieces in excursions do not
 * end it.
 */
function heldBefore_s(context: ExcursionContext, j: number, level_mA: number, enough_s: number): number {
  let held_s = 0;
  for (let k = j - 1; k >= 0 && held_s < enough_s; k--) {
    if (context.pieces[k]!.end_mA >= level_mA) held_s += lasting_s(context, k, k + 1);
    else if (context.inside[k] === 0) break;
  }
  return held_s;
}

/**
 * True when the current stays at or above `level_mA` for enough of the `span_s` seconds from piece
 * `back` on.
 */
function holdsAfter({ pieces, options }: ExcursionContext, back: number, level_mA: number, span_s: number): boolean {
  const until_s = options.at(pieces[back]!.from) + span_s;
  let held_s = 0;
  let seen_s = 0;
  for (let k = back; k < pieces.length && options.at(pieces[k]!.from) < until_s; k++) {
    const part_s = Math.min(until_s, options.at(pieces[k]!.to)) - options.at(pieces[k]!.from);
    seen_s += part_s;
    if (pieces[k]!.start_mA >= level_mA) held_s += part_s;
  }
  return held_s >= DIP_AFTER_SHARE * seen_s;
}

/**
 * The piece at which the fall that begins with piece j has come back, null where that fall is no
 * dip. O(pieces in it and around it).
 */
export function dipEnd(context: ExcursionContext, j: number): number | null {
  const { pieces, options } = context;
  const before = pieces[j - 1]!;
  const near_mA = nearness_mA(context, before, pieces[j]!);
  const level_mA = before.end_mA - near_mA;
  let back = j;
  let bottom_mA = Infinity;
  while (back < pieces.length && pieces[back]!.start_mA < level_mA) {
    bottom_mA = Math.min(bottom_mA, pieces[back]!.start_mA);
    back++;
  }
  const depth_mA = before.end_mA - bottom_mA;
  if (back === pieces.length) return null;
  if (departureOf(context, -1, j, back, before.end_mA, leastRise_mA(options.rise_mA)) === null) return null;
  if (pieces[back]!.start_mA > before.end_mA + Math.max(near_mA, DIP_BACK_SHARE * depth_mA)) return null;
  const lasts_s = lasting_s(context, j, back);
  if (heldBefore_s(context, j, level_mA, lasts_s / DIP_SHARE) < lasts_s / DIP_SHARE) return null;
  return holdsAfter(context, back, level_mA, lasts_s * DIP_AFTER_LENGTHS) ? back : null;
}
