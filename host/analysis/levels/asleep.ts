// When the car is asleep: from the first level held for 30 min in sum from which no later level held
// as long falls by more than 10 mA.

/** Seconds at a level, wake-ups set aside, that make it count for sleep and for the verdict. */
export const LONG_S = 1800;
/** A later fall of more than this shows that the car was not yet asleep. */
const FALL_MA = 10;

/** A level, and the seconds at it with wake-ups, dips and gaps left out. */
export interface HeldLevel {
  level_mA: number;
  held_s: number;
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
