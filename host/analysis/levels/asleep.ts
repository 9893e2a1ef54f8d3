// When the car is asleep, by the project's definition: the first level held for 30 min
// in sum from which no later level held as long falls by more than 10 mA. O(levels).

/** Time at a level, wake-ups set aside, that makes it one to judge by. */
export const LONG_S = 1800;
/** A later fall of more than this says that the car was not yet asleep. */
const FALL_MA = 10;

export interface HeldLevel {
  level_mA: number;
  held_s: number;
}

/** Index of the level at which the car is asleep; -1 where there is none. */
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
