// What is true of a modelled night, by the product's own definitions of level, step,
// wake-up and asleep, worked out from the car's data and never from samples.
import type { Car, WakeEvent } from './car.ts';

/** Held this long in sum, a level can be the asleep one; and no later one may fall by more. */
const ASLEEP_HOLD_S = 1800;
const ASLEEP_FALL_MA = 10;

export interface TrueLevel {
  start_s: number;
  end_s: number;
  /** Mean with trains and drift, wake-ups set aside. */
  mean_mA: number;
}

export interface TrueWake {
  modules: string[];
  start_s: number;
  end_s: number;
  /** Charge above the level. */
  charge_mAh: number;
  mean_mA: number;
}

export interface Truth {
  levels: TrueLevel[];
  /** Between levels. */
  steps: { t_s: number; from_mA: number; to_mA: number }[];
  wakeups: TrueWake[];
  asleep: null | { after_s: number; level_mA: number };
  total_mAh: number;
  mean_mA: number;
}

/**
 * The truth of the stretch from `from_s` to `to_s`; times in it stay the scenario's.
 * A change under `step_mA` makes no new level.
 */
export function truthOf(car: Car, from_s: number, to_s: number, step_mA = 5): Truth {
  const levels = levelsOf(car, from_s, to_s, step_mA);
  const wakeups = mergeWakes(car, from_s, to_s);
  const charge_mC = car.charge_mC(to_s) - car.charge_mC(from_s);
  return {
    levels,
    steps: levels
      .slice(1)
      .map((level, i) => ({ t_s: level.start_s, from_mA: levels[i]!.mean_mA, to_mA: level.mean_mA })),
    wakeups,
    asleep: asleepOf(levels, wakeups),
    total_mAh: charge_mC / 3600,
    mean_mA: charge_mC / (to_s - from_s),
  };
}

function levelsOf(car: Car, from_s: number, to_s: number, step_mA: number): TrueLevel[] {
  const edges = [from_s];
  let pending_mA = 0;
  for (const { t_s, change_mA } of car.stairs) {
    if (t_s <= from_s || t_s >= to_s) continue;
    pending_mA += change_mA;
    if (Math.abs(pending_mA) < step_mA) continue;
    edges.push(t_s);
    pending_mA = 0;
  }
  return edges.map((start_s, i) => {
    const end_s = edges[i + 1] ?? to_s;
    return { start_s, end_s, mean_mA: (car.baseCharge_mC(end_s) - car.baseCharge_mC(start_s)) / (end_s - start_s) };
  });
}

/** Wake-ups that overlap are one. One that is cut by the stretch's ends is cut here too. */
function mergeWakes(car: Car, from_s: number, to_s: number): TrueWake[] {
  const groups: { start_s: number; end_s: number; events: WakeEvent[] }[] = [];
  for (const event of car.wakes) {
    if (event.end_s <= from_s || event.start_s >= to_s) continue;
    const last = groups.at(-1);
    if (last !== undefined && event.start_s <= last.end_s) {
      last.end_s = Math.max(last.end_s, event.end_s);
      last.events.push(event);
    } else groups.push({ start_s: event.start_s, end_s: event.end_s, events: [event] });
  }
  return groups.map((group) => {
    const start_s = Math.max(from_s, group.start_s);
    const end_s = Math.min(to_s, group.end_s);
    const all_mC = car.charge_mC(end_s) - car.charge_mC(start_s);
    const level_mC = car.baseCharge_mC(end_s) - car.baseCharge_mC(start_s);
    const modules = [...new Set(group.events.map((event) => event.module))];
    return { modules, start_s, end_s, charge_mAh: (all_mC - level_mC) / 3600, mean_mA: all_mC / (end_s - start_s) };
  });
}

function asleepOf(levels: TrueLevel[], wakeups: TrueWake[]): Truth['asleep'] {
  const held_s = (level: TrueLevel) =>
    level.end_s -
    level.start_s -
    wakeups.reduce(
      (sum, wake) => sum + Math.max(0, Math.min(level.end_s, wake.end_s) - Math.max(level.start_s, wake.start_s)),
      0,
    );
  const lasting = levels.filter((level) => held_s(level) >= ASLEEP_HOLD_S);
  const asleep = lasting.find((level) =>
    lasting.every((later) => later.start_s <= level.start_s || later.mean_mA >= level.mean_mA - ASLEEP_FALL_MA),
  );
  return asleep === undefined ? null : { after_s: asleep.start_s, level_mA: asleep.mean_mA };
}
