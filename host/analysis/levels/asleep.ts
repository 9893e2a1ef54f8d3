// When the car is asleep: from the first level held for 30 min in sum from which no later level held
// as long falls by more than 10 mA. Small bumps, which are no wake-ups, are set aside as wake-ups are;
// and where no level is held so long between larger changes, all stretches at it count together. A
// level that sinks slowly counts from where it is reached: from there on it lies no more than a step
// over what it keeps for 30 min in sum. A current that swings slowly up and down is held nowhere.

import { median } from 'd3-array';
import { isSameLevel } from './step.ts';

/** Seconds at a level, wake-ups set aside, that make it count for sleep and for the verdict. */
const LONG_S = 1800;
/** A later fall of more than this shows that the car was not yet asleep. */
const FALL_MA = 10;
/** Longest bump, s, and the same as a share of the time at its level before it. Ours, no source. */
const BUMP_S = 300;
const BUMP_SHARE = 0.5;

/** A level stays within the fall of its middle current for this share of its time, or it is none. Ours, no source. */
const NEAR_SHARE = 0.5;

/** A level, and the seconds at it with wake-ups, dips and gaps left out. */
export interface HeldLevel {
  level_mA: number;
  held_s: number;
}

const heldIn_s = (levels: readonly HeldLevel[]) => levels.reduce((sum, { held_s }) => sum + held_s, 0);

/** Several of them as one, its current the mean over the time at each; null where no time lies in them. */
export function wholeOf(levels: readonly HeldLevel[]): HeldLevel | null {
  const held_s = heldIn_s(levels);
  const area_mAs = levels.reduce((sum, level) => sum + level.held_s * level.level_mA, 0);
  return held_s > 0 ? { level_mA: area_mAs / held_s, held_s } : null;
}

/** A level with how the current ran in it, in parts in order of time. */
interface CoursedLevel extends HeldLevel {
  course: HeldLevel[];
}

/**
 * Where a level comes back to one of `before` after a bump: the index of that one, -1 where it comes back
 * to none. What lies between is short in sum, and short beside the time at the level before it. O(1), since
 * few levels are so short.
 */
function backTo(before: readonly CoursedLevel[], { course: [first] }: CoursedLevel, step_mA: number): number {
  let between_s = 0;
  for (let i = before.length - 1; i >= 0 && between_s <= BUMP_S && first !== undefined; i--) {
    const { course, held_s } = before[i]!;
    const last = course.at(-1);
    const isBack = last !== undefined && isSameLevel(first.level_mA - last.level_mA, 0, step_mA);
    if (isBack && between_s <= BUMP_SHARE * held_s) return i;
    between_s += held_s;
  }
  return -1;
}

/**
 * The levels without small bumps: rises and falls that are steps and no wake-ups or dips, but come back
 * within some minutes. What lies before a bump and after it is one level. `levels` in order of time.
 * O(parts of their courses).
 *
 * @param step_mA smallest step, as set in the options
 */
export function withoutBumps<L extends CoursedLevel>(levels: readonly L[], step_mA: number): L[] {
  const kept: L[] = [];
  for (const level of levels) {
    const at = backTo(kept, level, step_mA);
    if (at < 0) {
      kept.push({ ...level, course: [...level.course] });
      continue;
    }
    const one = kept[at]!;
    for (const part of level.course) one.course.push(part);
    Object.assign(one, wholeOf([one, level]));
    kept.length = at + 1;
  }
  return kept;
}

/** Those of the levels that are the same as one of them, itself included. */
function sameAs<L extends HeldLevel>(levels: readonly L[], one: HeldLevel, step_mA: number): L[] {
  return levels.filter(({ level_mA }) => isSameLevel(level_mA - one.level_mA, 0, step_mA));
}

/** Whether each level is held for long, all stretches at it together. O(levels²). */
export function heldLong(levels: readonly HeldLevel[], step_mA: number): boolean[] {
  return levels.map((one) => heldIn_s(sameAs(levels, one, step_mA)) >= LONG_S);
}

/**
 * The level at which the car falls asleep, null where there is none: the first one that is held for long by
 * itself, else the first one that is with all later stretches at it, as their mean. `levels` in order of
 * time, without bumps. O(levels²).
 *
 * @param step_mA smallest step, as set in the options
 */
export function asleepAt(levels: readonly HeldLevel[], step_mA: number): { index: number; level_mA: number } | null {
  const long = heldLong(levels, step_mA);
  let lowest = Infinity;
  let found: number | null = null;
  let inSum: number | null = null;
  for (let i = levels.length - 1; i >= 0; i--) {
    const { level_mA, held_s } = levels[i]!;
    if (!long[i]) continue;
    if (level_mA - lowest <= FALL_MA) {
      inSum = i;
      if (held_s >= LONG_S) found = i;
    }
    lowest = Math.min(lowest, level_mA);
  }
  if (found !== null) return { index: found, level_mA: levels[found]!.level_mA };
  if (inSum === null) return null;
  const together = wholeOf(sameAs(levels.slice(inSum), levels[inSum]!, step_mA));
  return { index: inSum, level_mA: together!.level_mA };
}

/** The current that a level keeps: for 30 min in sum it lies no higher. Infinite where it is not held so long. */
function keptCurrent_mA(course: readonly HeldLevel[]): number {
  let held_s = 0;
  for (const part of course.toSorted((a, b) => a.level_mA - b.level_mA)) {
    held_s += part.held_s;
    if (held_s >= LONG_S) return part.level_mA;
  }
  return Infinity;
}

/**
 * The part of a level's course with which it is reached: 0 where it does not sink by more than the fall
 * that keeps a car awake, else the first that lies within a step of the current that the level keeps.
 * From there on it is held for 30 min at least. Ours, no source. O(parts log parts).
 *
 * @param course the level's parts of about half a minute, in order of time
 * @param step_mA smallest step, as set in the options
 */
export function reachedIn(course: readonly HeldLevel[], step_mA: number): number {
  const kept_mA = keptCurrent_mA(course);
  if (course.length === 0 || course[0]!.level_mA - kept_mA <= FALL_MA) return 0;
  return course.findIndex((part) => part.level_mA - kept_mA <= step_mA);
}

/**
 * Whether a level is held at all: for half of its time it lies within the fall of its middle current. Slow
 * drift does, a current that swings up and down all night without a step that shows does not. O(parts log parts).
 *
 * @param course the level's parts of about half a minute
 */
export function staysNear(course: readonly HeldLevel[]): boolean {
  const middle_mA = median(course, ({ level_mA }) => level_mA);
  if (middle_mA === undefined) return true;
  const near = course.filter(({ level_mA }) => Math.abs(level_mA - middle_mA) <= FALL_MA);
  return heldIn_s(near) >= NEAR_SHARE * heldIn_s(course);
}
