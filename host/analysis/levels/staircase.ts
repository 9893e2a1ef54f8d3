// From pieces to levels, and the edges between them. Neighbouring pieces less than a step apart are
// one level, however it drifts. A level not held long enough in sum, wake-ups set aside, is dropped,
// and its neighbours are joined where they are the same. What is less than a step and what is long
// enough: step.ts.

import type { Samples } from '../../contract/capture.ts';
import type { Piece } from './pieces.ts';
import { edgeBetween } from './edges.ts';
import { isHeld, isSameLevel } from './step.ts';

/** A run of pieces at about the same current. */
export interface Level {
  /** Its first and last piece. */
  first: number;
  last: number;
  /** Current near its start and near its end. */
  start_mA: number;
  end_mA: number;
  /** Standard errors of those two. */
  startError_mA: number;
  endError_mA: number;
  /** Seconds at it, wake-ups and gaps left out. */
  held_s: number;
}

/** The smallest step, the shortest hold, and how to measure time. */
export interface StaircaseOptions {
  step_mA: number;
  hold_s: number;
  /** Seconds that samples from..to-1 cover, gaps left out. */
  lasts_s: (from: number, to: number) => number;
}

function isSame(a: Level, b: Level, step_mA: number): boolean {
  return isSameLevel(b.start_mA - a.end_mA, Math.hypot(a.endError_mA, b.startError_mA), step_mA);
}

/**
 * Mean of two currents, weighted by the time at each, up to one hold in all: the first goes before the
 * second.
 */
function weighed(first_mA: number, first_s: number, then_mA: number, then_s: number, hold_s: number): number {
  const own_s = Math.min(first_s, hold_s);
  const other_s = Math.min(then_s, hold_s - own_s);
  return own_s + other_s > 0 ? (own_s * first_mA + other_s * then_mA) / (own_s + other_s) : first_mA;
}

function joinLevels(a: Level, b: Level, hold_s: number): Level {
  return {
    first: a.first,
    last: b.last,
    start_mA: weighed(a.start_mA, a.held_s, b.start_mA, b.held_s, hold_s),
    end_mA: weighed(b.end_mA, b.held_s, a.end_mA, a.held_s, hold_s),
    startError_mA: a.startError_mA,
    endError_mA: b.endError_mA,
    held_s: a.held_s + b.held_s,
  };
}

function pushJoined(levels: Level[], level: Level, { step_mA, hold_s }: StaircaseOptions): void {
  const last = levels.at(-1);
  if (last !== undefined && isSame(last, level, step_mA)) levels[levels.length - 1] = joinLevels(last, level, hold_s);
  else levels.push(level);
}

/**
 * The next level to drop of those not held: the shortest one between two that are the same, else the
 * shortest.
 */
function nextOut(held: boolean[], levels: Level[], step_mA: number): Level {
  let out: Level | null = null;
  let outSpans = false;
  levels.forEach((level, i) => {
    if (held[i]) return;
    const [before, after] = [levels[i - 1], levels[i + 1]];
    const spans = before !== undefined && after !== undefined && isSame(before, after, step_mA);
    if (out === null || (spans && !outSpans) || (spans === outSpans && level.held_s < out.held_s)) {
      out = level;
      outSpans = spans;
    }
  });
  return out!;
}

/**
 * The levels of pieces first..end-1, in order of time; where no level is held long enough, the one
 * that is left. O(pieces) where few levels are dropped, O(pieces²) at worst.
 *
 * @param skip 1 for pieces to leave out (those in wake-ups and dips); null to take all
 */
export function levelsOf(
  pieces: Piece[],
  first: number,
  end: number,
  skip: number[] | null,
  options: StaircaseOptions,
): Level[] {
  let levels: Level[] = [];
  for (let j = first; j < end; j++) {
    if (skip?.[j]) continue;
    const { from, to, start_mA, end_mA, noise_mA, ticks } = pieces[j]!;
    const error_mA = noise_mA / Math.sqrt(ticks);
    pushJoined(
      levels,
      {
        first: j,
        last: j,
        start_mA,
        end_mA,
        startError_mA: error_mA,
        endError_mA: error_mA,
        held_s: options.lasts_s(from, to),
      },
      options,
    );
  }
  for (;;) {
    const held = levels.map((level) => isHeld(level.held_s, options.hold_s));
    if (levels.length < 2 || held.every(Boolean)) break;
    const out = nextOut(held, levels, options.step_mA);
    const kept: Level[] = [];
    for (const level of levels) if (level !== out) pushJoined(kept, level, options);
    levels = kept;
  }
  return settled(levels, options);
}

/**
 * Joins neighbours until none are the same: joining moves a level's ends, which may bring it near the
 * next.
 */
function settled(levels: Level[], options: StaircaseOptions): Level[] {
  const kept: Level[] = [];
  for (const level of levels) pushJoined(kept, level, options);
  return kept.length === levels.length ? kept : settled(kept, options);
}

/** The place and size of a change from one level to the next. */
export interface Edge {
  /** First sample of the new level. */
  sample: number;
  /** Current at the end of the level before it and at the start of the one after it. */
  from_mA: number;
  to_mA: number;
}

/**
 * The edge between two neighbouring levels. Pieces between them were too short for a level. O(samples
 * between them).
 */
export function edgeOf(pieces: Piece[], samples: Samples, before: Level, after: Level): Edge {
  const from_mA = before.end_mA;
  const to_mA = after.start_mA;
  const gone = pieces[before.last]!.to;
  const there = pieces[after.first]!.from;
  const sample = after.first === before.last + 1 ? there : edgeBetween(samples, gone, there, from_mA, to_mA);
  return { sample, from_mA, to_mA };
}
