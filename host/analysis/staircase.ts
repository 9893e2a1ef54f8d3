// From pieces to levels and the steps between them. Neighbouring pieces within a step
// of each other are one level, however it drifts; a level not held long enough (in sum,
// with wake-ups set aside) is none, and what is on both sides of it is joined where it
// is the same. O(pieces).

import type { Samples } from '../capture/types.ts';
import type { Piece } from './pieces.ts';
import { edgeBetween } from './refine.ts';
import { HOLD_SHARE } from './segments.ts';

/** A step of just the smallest size may measure this much less. */
const STEP_SHARE = 0.9;

export interface Level {
  /** Its first and last piece. */
  first: number;
  last: number;
  start_mA: number;
  end_mA: number;
  /** Time at it, wake-ups and gaps left out. */
  held_s: number;
}

export interface StaircaseOptions {
  step_mA: number;
  hold_s: number;
  /** Time without gaps of samples from..to-1. */
  lasts_s: (from: number, to: number) => number;
}

function same(a: Level, b: Level, step_mA: number): boolean {
  return Math.abs(b.start_mA - a.end_mA) < STEP_SHARE * step_mA;
}

function joined(a: Level, b: Level): Level {
  // A few samples say less about where a level stands than what came before.
  const end_mA = b.held_s > a.held_s / 8 ? b.end_mA : a.end_mA;
  const start_mA = a.held_s > b.held_s / 8 ? a.start_mA : b.start_mA;
  return { first: a.first, last: b.last, start_mA, end_mA, held_s: a.held_s + b.held_s };
}

function pushJoined(levels: Level[], level: Level, step_mA: number): void {
  const last = levels.at(-1);
  if (last !== undefined && same(last, level, step_mA)) levels[levels.length - 1] = joined(last, level);
  else levels.push(level);
}

/** Levels of the pieces first..end-1 for which `skip` is 0. */
export function levelsOf(pieces: Piece[], first: number, end: number, skip: number[] | null, options: StaircaseOptions): Level[] {
  let levels: Level[] = [];
  for (let j = first; j < end; j++) {
    if (skip?.[j]) continue;
    const { from, to, start_mA, end_mA } = pieces[j]!;
    pushJoined(levels, { first: j, last: j, start_mA, end_mA, held_s: options.lasts_s(from, to) }, options.step_mA);
  }
  const isHeld = (level: Level) => level.held_s >= HOLD_SHARE * options.hold_s;
  while (levels.length > 1 && !levels.every(isHeld)) {
    const shortest = levels.reduce((a, b) => (b.held_s < a.held_s ? b : a));
    const kept: Level[] = [];
    for (const level of levels) if (level !== shortest) pushJoined(kept, level, options.step_mA);
    levels = kept;
  }
  return levels;
}

export interface Edge {
  /** First sample of the new level. */
  sample: number;
  from_mA: number;
  to_mA: number;
}

/** The edge between two levels; what lies between them was too short to be one. */
export function edgeOf(pieces: Piece[], samples: Samples, before: Level, after: Level): Edge {
  const from_mA = before.end_mA;
  const to_mA = after.start_mA;
  const gone = pieces[before.last]!.to;
  const there = pieces[after.first]!.from;
  const sample = after.first === before.last + 1 ? there : edgeBetween(samples, gone, there, from_mA, to_mA);
  return { sample, from_mA, to_mA };
}
