// The definition of a step, with its thresholds: a lasting change from one held level to
// another. To change what counts as a step, change this file. An edge between ticks is tested
// by `jumpStrength`; levels made of pieces are compared by `isHeld` and `isSameLevel`; a change
// of level across a wake-up is tested by `isExplained`. How levels are put together and where
// between them a step lies: staircase.ts.

import type { Step } from '../../contract/findings.ts';
import { ticksBeside } from './local-fit.ts';
import type { LocalFit } from './local-fit.ts';

/** A step of exactly the smallest size may measure as little as this share of it. */
const STEP_SHARE = 0.9;
/** Ticks are coarse: a level held for exactly the shortest hold may measure as little as this share of it. */
const HOLD_SHARE = 0.95;
/** Standard errors within which two levels are the same. */
export const SAME_ERRORS = 4;

/**
 * Standard errors that a jump must stand out by. With 43 200 ticks a night, fewer would let chance
 * through.
 */
const SURE_ERRORS = 5;
/** Fewest ticks on a side for a straight line to be fitted to it. */
const LINE_MIN = 12;
/** Share of the wanted size that must remain once straight drift is subtracted. */
const LINE_SHARE = 0.6;
/** Drift that a gap may hide without a step, in smallest steps for each second of it: one an hour. */
const GAP_DRIFT_PER_STEP = 1 / 3600;

/** A step inside a wake-up accounts for a change of level that differs from it by at most this share. */
const EXPLAINS_SHARE = 0.3;

/**
 * True when a level was held long enough to count.
 *
 * @param held_s time at the level, wake-ups and gaps left out
 * @param hold_s shortest hold, as set in the options
 */
export function isHeld(held_s: number, hold_s: number): boolean {
  return held_s >= HOLD_SHARE * hold_s;
}

/**
 * True when two levels that differ by `change_mA` count as one, so that no step lies between them.
 *
 * @param change_mA difference of the two currents, of either sign
 * @param error_mA standard error of that difference
 * @param step_mA smallest step, as set in the options
 */
export function isSameLevel(change_mA: number, error_mA: number, step_mA: number): boolean {
  return Math.abs(change_mA) < Math.max(STEP_SHARE * step_mA, SAME_ERRORS * error_mA);
}

/**
 * How clearly the edge at tick `at` is a jump of at least `step_mA` (1 or more) and not slow drift or
 * noise. It must show in the means of the ticks beside it and also between straight lines fitted to
 * them, since drift moves the means apart but not the lines. O(1).
 *
 * @param from first tick of the segment before the edge
 * @param to tick after the last one of the segment after it
 * @param gap_s seconds without samples at the edge
 */
export function jumpStrength(
  fit: LocalFit,
  from: number,
  at: number,
  to: number,
  step_mA: number,
  gap_s: number,
): number {
  const [a, b] = ticksBeside(from, at, true);
  const [c, d] = ticksBeside(at, to, false);
  const size_mA = fit.mean(c, d) - fit.mean(a, b);
  const error = Math.sqrt(fit.variance(from, at) / (b - a) + fit.variance(at, to) / (d - c));
  // Samples that do not even vary by one code may be off by half a code on each side: sigma is code /
  // sqrt(12) each.
  const unsure = Math.hypot(error, fit.code_mA / Math.sqrt(6));
  const least = Math.max(STEP_SHARE * step_mA, step_mA - 2 * unsure);
  const wanted = Math.max(least, SURE_ERRORS * error) + step_mA * GAP_DRIFT_PER_STEP * gap_s;
  const strength = Math.abs(size_mA) / wanted;
  if (gap_s !== 0 || b - a < LINE_MIN || d - c < LINE_MIN) return strength;
  const left = fit.line(a, b, at - 0.5);
  const right = fit.line(c, d, at - 0.5);
  const kept = (right - left) * Math.sign(size_mA);
  return Math.min(strength, Math.max(0, kept) / (LINE_SHARE * wanted));
}

/**
 * True when the steps inside the wake-ups and dips between two levels already account for the change
 * from one to the other, so that it is not listed a second time. O(inner steps).
 *
 * @param inner steps inside those wake-ups and dips
 * @param change_mA change from the level before them to the level after them
 */
export function isExplained(inner: readonly Step[], change_mA: number, step_mA: number): boolean {
  const near = Math.max(step_mA, EXPLAINS_SHARE * Math.abs(change_mA));
  return inner.some((s) => Math.abs(s.to_mA - s.from_mA - change_mA) <= near);
}
