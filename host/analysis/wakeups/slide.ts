// A current that falls off slowly inside a wake-up, as that of a motor or a lamp does, is no staircase: what was taken
// for levels in it are parts of one slope. A change from one level to the next is a slide where straight lines through
// the ticks beside it meet, or where it is spread over ticks in between of which no two lie far apart.

import type { Samples } from '../../contract/capture.ts';
import type { LocalFit } from '../levels/local-fit.ts';
import type { Piece } from '../levels/pieces.ts';
import type { Level } from '../levels/staircase.ts';
import { tickAt } from '../ticks/ticks.ts';
import type { Ticks } from '../ticks/ticks.ts';

/** Ticks on each side that lines are fitted to: a shortest hold, and three of them. */
const REACHES = [20, 60];
/** Fewest ticks on a side for a line. */
const LINE_MIN = 8;
/** Share of a change that must remain between the lines, and standard errors that it may lack. */
const KEPT_SHARE = 0.35;
const ERRORS = 2;
/** Ticks on each side of a place that a jump is looked for at. */
const NEAR = 2;
/** Share of a change that one place in it must account for. */
const AT_ONCE = 0.4;
/** A change of fewer codes than this is what a slope shows too. */
const CODES = 1.5;

/** Where one level ends and the next begins. */
export interface Change {
  /** Ticks from..gone-1 lie in the level before it, there..to-1 in the one after it. */
  from: number;
  gone: number;
  there: number;
  to: number;
  size_mA: number;
  /** Smallest change that the samples around it show. */
  code_mA: number;
}

/** The smallest change from one of samples from..to-1 to the next; 0 where all are alike. O(samples). */
export function codeWithin(samples: Samples, from: number, to: number): number {
  let least_mA = Infinity;
  for (let i = from + 1; i < to; i++) {
    const by_mA = Math.abs(samples[i]! - samples[i - 1]!);
    if (by_mA > 0 && by_mA < least_mA) least_mA = by_mA;
  }
  return least_mA === Infinity ? 0 : least_mA;
}

/** The change between two neighbouring levels, without the ticks that hold part of an edge. */
export function changeBetween(
  pieces: readonly Piece[],
  ticks: Ticks,
  before: Level,
  after: Level,
  code_mA: number,
): Change {
  const first = tickAt(ticks, pieces[before.first]!.from) + 1;
  const there = tickAt(ticks, pieces[after.first]!.from) + 1;
  return {
    from: first,
    gone: Math.max(first, tickAt(ticks, pieces[before.last]!.to - 1)),
    there,
    to: Math.max(there, tickAt(ticks, pieces[after.last]!.to - 1)),
    size_mA: after.start_mA - before.end_mA,
    code_mA,
  };
}

/** Variance of the line through `count` ticks at `away` ticks from their middle, of that of one tick. */
const lineVariance = (count: number, away: number) => 1 / count + (12 * away * away) / (count * (count * count - 1));

/** True where straight lines through the ticks on both sides leave less of a change than a step has. O(1). */
function linesMeet(fit: LocalFit, change: Change): boolean {
  const { from, gone, there, to, size_mA } = change;
  const middle = (gone + there - 1) / 2;
  return REACHES.some((reach) => {
    const a = Math.max(from, gone - reach);
    const b = Math.min(to, there + reach);
    if (gone - a < LINE_MIN || b - there < LINE_MIN) return false;
    const kept = (fit.line(there, b, middle) - fit.line(a, gone, middle)) * Math.sign(size_mA);
    const error = Math.sqrt(
      fit.variance(a, gone) * lineVariance(gone - a, middle - (a + gone - 1) / 2) +
        fit.variance(there, b) * lineVariance(b - there, (there + b - 1) / 2 - middle),
    );
    return kept + ERRORS * error < KEPT_SHARE * Math.abs(size_mA);
  });
}

/** True where no place in a change accounts for much of it, codes apart. O(ticks in it). */
function isSpread(fit: LocalFit, { from, gone, there, to, size_mA, code_mA }: Change): boolean {
  let most_mA = 0;
  for (let k = Math.max(from + NEAR, gone - NEAR); k + NEAR < Math.min(to, there + NEAR); k++)
    most_mA = Math.max(most_mA, (fit.mean(k + 1, k + 1 + NEAR) - fit.mean(k - NEAR, k)) * Math.sign(size_mA));
  return most_mA - code_mA < AT_ONCE * (Math.abs(size_mA) - code_mA);
}

/** True where the current slid from one level to the next and did not step. O(ticks between them). */
export function isSlide(fit: LocalFit, change: Change): boolean {
  return Math.abs(change.size_mA) < CODES * change.code_mA || linesMeet(fit, change) || isSpread(fit, change);
}
