// When the car is asleep: from the first level held for 30 min in sum from which no later level held
// as long falls by more than 10 mA. A level that sinks slowly counts from where it is reached: from
// there on it lies no more than a step over what it keeps for 30 min in sum.

/** Seconds at a level, wake-ups set aside, that make it count for sleep and for the verdict. */
export const LONG_S = 1800;
/** A later fall of more than this shows that the car was not yet asleep. */
const FALL_MA = 10;

/** A level, and the seconds at it with wake-ups, dips and gaps left out. */
export interface HeldLevel {
  level_mA: number;
  held_s: number;
}

/** Several of them as one, its current the mean over the time at each; null where no time lies in them. */
export function wholeOf(levels: readonly HeldLevel[]): HeldLevel | null {
  const held_s = levels.reduce((sum, level) => sum + level.held_s, 0);
  const area_mAs = levels.reduce((sum, level) => sum + level.held_s * level.level_mA, 0);
  return held_s > 0 ? { level_mA: area_mAs / held_s, held_s } : null;
}

/**
 * Index of the level at which the car falls asleep, -1 where there is none. `levels` in order of time.
 * O(levels).
 */
export function asleepAt(levels: HeldLevel[]): number {
  let lowest = Infinity;
  let found = -1;
  for (let i = levels.length - 1; i >= 0; i--) {
    const { level_mA, held_s } = levels[i]!;
    if (held_s < LONG_S) continue;
    if (level_mA - lowest <= FALL_MA) found = i;
    lowest = Math.min(lowest, level_mA);
  }
  return found;
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
