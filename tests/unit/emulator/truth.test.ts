// The truth of a modelled night against the product's definitions, on cars small
// enough to work each answer out by hand.
import { describe, expect, test } from 'vitest';
import { Car } from '../../../host/emulator/car/car.ts';
import type { ModuleSpec } from '../../../host/emulator/car/spec.ts';
import { truthOf } from '../../../host/emulator/car/truth.ts';
import { seededRandom } from '../../../host/emulator/random.ts';

function car(modules: ModuleSpec[]): Car {
  const battery = { capacity_Ah: 60, rested_V: 12.6, fall_V: 0.9, surface_V: 0, surfaceTau_s: 3600, internal_mOhm: 10 };
  const climate = { start_C: 20, end_C: 20, tau_s: 3600, swing_C: 0, swingPeriod_s: 3600 };
  return new Car({ lock_s: 0, modules, battery, climate }, seededRandom(1));
}

/** Draws by the time until which they hold; the last stays. */
const stairs = (name: string, ...list: [until_s: number, mA: number][]): ModuleSpec => ({
  name,
  awake: list.slice(0, -1).map(([untilAfterLock_s, mA]) => ({ untilAfterLock_s, mA })),
  asleep_mA: list.at(-1)![1],
});

describe('asleep', () => {
  test('the first level held for 30 min', () => {
    const truth = truthOf(car([stairs('gateway', [1700, 200], [1e9, 20])]), 0, 7200);
    expect(truth.asleep).toEqual({ after_s: 1700, level_mA: expect.closeTo(20, 9) as number });
  });

  test('not one from which a later lasting level falls by more than 10 mA', () => {
    const falls12 = truthOf(car([stairs('gateway', [2400, 32], [1e9, 20])]), 0, 7200);
    expect(falls12.asleep!.after_s).toBe(2400);
    const falls9 = truthOf(car([stairs('gateway', [2400, 29], [1e9, 20])]), 0, 7200);
    expect(falls9.asleep).toEqual({ after_s: 0, level_mA: expect.closeTo(29, 9) as number });
  });

  test('a later rise leaves it', () => {
    const truth = truthOf(car([stairs('gateway', [3600, 20], [1e9, 90])]), 0, 7200);
    expect(truth.asleep!.after_s).toBe(0);
  });

  test('none where no level holds for 30 min, wake-ups set aside', () => {
    const wakes: ModuleSpec['wakes'] = [{ when: 'once', at_s: 1000, stages: [{ duration_s: 100, rise_mA: 500 }] }];
    const with30min = (length_s: number) =>
      truthOf(car([{ name: 'gateway', awake: [], asleep_mA: 20, wakes }]), 0, length_s).asleep;
    expect(with30min(1899)).toBeNull();
    expect(with30min(1900)).not.toBeNull();
  });
});

describe('steps and levels', () => {
  test('a change under 5 mA makes no level, but small ones add up to one', () => {
    const one = truthOf(car([stairs('alarm', [600, 24], [1e9, 20])]), 0, 1200);
    expect(one.steps).toEqual([]);
    const two = truthOf(car([stairs('alarm', [600, 26], [800, 23], [1e9, 20])]), 0, 1200);
    expect(two.steps.map((step) => step.t_s)).toEqual([800]);
  });

  test('a blinking load is part of its level, with its mean', () => {
    const blinking: ModuleSpec = {
      name: 'alarm',
      awake: [],
      asleep_mA: 10,
      trains: [{ from_s: 0, period_s: 2, on_s: 0.1, mA: 20 }],
    };
    const truth = truthOf(car([blinking]), 0, 2000);
    expect(truth.levels).toEqual([{ start_s: 0, end_s: 2000, mean_mA: expect.closeTo(11, 9) as number }]);
  });

  test('a stretch that starts later keeps the scenario’s times', () => {
    const truth = truthOf(car([stairs('gateway', [600, 200], [1e9, 20])]), 300, 1200);
    expect(truth.levels.map((level) => [level.start_s, level.end_s])).toEqual([
      [300, 600],
      [600, 1200],
    ]);
  });
});

describe('wake-ups', () => {
  const pulse = (at_s: number, duration_s: number, rise_mA: number): ModuleSpec => ({
    name: `load at ${at_s}`,
    awake: [],
    asleep_mA: 10,
    wakes: [{ when: 'once', at_s, stages: [{ duration_s, rise_mA }] }],
  });

  test('charge above the level, mean absolute', () => {
    const [wake] = truthOf(car([pulse(100, 36, 500)]), 0, 200).wakeups;
    expect(wake!.charge_mAh).toBeCloseTo(5, 9);
    expect(wake!.mean_mA).toBeCloseTo(510, 9);
  });

  test('two that overlap are one', () => {
    const truth = truthOf(car([pulse(100, 20, 300), pulse(110, 30, 200)]), 0, 200);
    expect(truth.wakeups.length).toBe(1);
    expect(truth.wakeups[0]).toMatchObject({ start_s: 100, end_s: 140 });
    expect(truth.wakeups[0]!.charge_mAh * 3600).toBeCloseTo(20 * 300 + 30 * 200, 6);
  });
});
