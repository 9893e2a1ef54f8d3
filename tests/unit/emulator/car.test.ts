// The car model: its closed-form charge against numeric quadrature of its current,
// repeatability, battery and temperature, and the scenarios' own promises.
import { describe, expect, test } from 'vitest';
import { Car } from '../../../host/emulator/car/car.ts';
import { getScenario, listScenarios } from '../../../host/emulator/car/scenarios.ts';
import type { CarSpec, ModuleSpec, Scenario } from '../../../host/emulator/car/spec.ts';
import { truthOf } from '../../../host/emulator/car/truth.ts';
import { seededRandom } from '../../../host/emulator/random.ts';

const carOf = (scenario: Scenario, seed = scenario.seed) => new Car(scenario.car, seededRandom(seed));

/**
 * Midpoint sum. Where the current is smooth the error falls with the square of the
 * spacing; each jump of J inside adds up to J x spacing / 2.
 */
function quadrature_mC(car: Car, from_s: number, to_s: number, points: number): number {
  const spacing = (to_s - from_s) / points;
  let sum = 0;
  for (let i = 0; i < points; i++) sum += car.current_mA(from_s + (i + 0.5) * spacing);
  return sum * spacing;
}

/** A car of these modules in an even climate. */
function plainCar(modules: ModuleSpec[], changes: Partial<CarSpec> = {}): CarSpec {
  return {
    lock_s: 0,
    modules,
    battery: { capacity_Ah: 60, rested_V: 12.6, fall_V: 0.9, surface_V: 0, surfaceTau_s: 3600, internal_mOhm: 10 },
    climate: { start_C: 20, end_C: 20, tau_s: 3600, swing_C: 0, swingPeriod_s: 3600 },
    ...changes,
  };
}

describe('charge is the exact integral of the current', () => {
  test.each(listScenarios().map((scenario) => ({ name: scenario.name, scenario })))(
    '$name, 40 intervals from all over it',
    ({ scenario }) => {
      const car = carOf(scenario);
      const random = seededRandom(99);
      for (let i = 0; i < 40; i++) {
        const from_s = random() * (scenario.length_s - 3);
        const to_s = from_s + 3 * random() + 0.01;
        const points = 60_000;
        // Up to 25 jumps of 30 mA from trains, or one of 6 A from a wake-up with inrush.
        const bound_mC = ((25 * 30 + 6000) * (to_s - from_s)) / points / 2;
        const exact_mC = car.charge_mC(to_s) - car.charge_mC(from_s);
        expect(Math.abs(exact_mC - quadrature_mC(car, from_s, to_s, points)), `from ${from_s} to ${to_s}`).toBeLessThan(
          bound_mC,
        );
      }
    },
  );

  test('across the start of a wake-up with its inrush', () => {
    const car = carOf(getScenario('wakes')!);
    const wake = car.wakes[0]!;
    const exact_mC = car.charge_mC(wake.start_s + 1) - car.charge_mC(wake.start_s - 1);
    const numeric_mC = quadrature_mC(car, wake.start_s - 1, wake.start_s + 1, 400_000);
    // One jump of 1250 + 3400 mA, a few of trains.
    expect(Math.abs(exact_mC - numeric_mC)).toBeLessThan((5000 * 2) / 400_000);
    // And the inrush is in it: 1 s at 1250 mA and 3400 mA x 30 ms over the base.
    const base_mC = car.baseCharge_mC(wake.start_s + 1) - car.baseCharge_mC(wake.start_s - 1);
    expect(exact_mC - base_mC).toBeCloseTo(1250 + 3400 * 0.03, 6);
  });

  test('it does not depend on the order of asking', () => {
    const scenario = getScenario('wakes')!;
    const times = Array.from({ length: 500 }, (_, i) => (i * 7919.3) % scenario.length_s);
    const jumping = carOf(scenario);
    const jumped = new Map(times.map((t_s) => [t_s, jumping.charge_mC(t_s)]));
    const walking = carOf(scenario);
    for (const t_s of [...times].sort((a, b) => a - b)) expect(walking.charge_mC(t_s)).toBe(jumped.get(t_s));
    expect(walking.charge_mC(0)).toBe(0);
  });

  test('drift with temperature: mean of 0.5 mA per degree from 30 C to 10 C', () => {
    const spec = plainCar([{ name: 'load', awake: [], asleep_mA: 100, perDegree_mA: 0.5 }], {
      climate: { start_C: 30, end_C: 10, tau_s: 1000, swing_C: 2, swingPeriod_s: 500 },
    });
    const car = new Car(spec, seededRandom(1));
    expect(car.current_mA(0)).toBeCloseTo(105, 9);
    expect(car.charge_mC(3000)).toBeCloseTo(quadrature_mC(car, 0, 3000, 300_000), 3);
  });

  test('mean of the security LED train, 65 mA for 0.1 s and 40 mA for 2 s, is 41.2 mA (Mazda workshop manual 2021)', () => {
    const spec = plainCar([
      { name: 'alarm', awake: [], asleep_mA: 40, trains: [{ from_s: 0, period_s: 2.1, on_s: 0.1, mA: 25 }] },
    ]);
    const car = new Car(spec, seededRandom(1));
    expect(car.charge_mC(2100) / 2100).toBeCloseTo(41.19, 2);
    expect(car.current_mA(0.05)).toBe(65);
    expect(car.current_mA(0.15)).toBe(40);
  });
});

describe('seeds', () => {
  test('the same seed makes the same night, another one another', () => {
    const scenario = getScenario('wakes')!;
    const starts = (seed: number) =>
      carOf(scenario, seed)
        .wakes.slice(0, 17)
        .map((wake) => wake.start_s);
    expect(starts(5)).toEqual(starts(5));
    expect(starts(5)).not.toEqual(starts(6));
  });

  test('random wake-ups keep their least gap and come near their mean gap', () => {
    const wakes: ModuleSpec['wakes'] = [
      { when: 'random', from_s: 0, meanGap_s: 1200, leastGap_s: 300, stages: [{ duration_s: 10, rise_mA: 500 }] },
    ];
    const car = new Car(plainCar([{ name: 'receiver', awake: [], asleep_mA: 5, wakes }]), seededRandom(8));
    const gaps = car.wakes.slice(1).map((wake, i) => wake.start_s - car.wakes[i]!.end_s);
    expect(Math.min(...gaps)).toBeGreaterThanOrEqual(300);
    const mean = gaps.reduce((sum, gap) => sum + gap, 0) / gaps.length;
    // 900 s is the deviation of the exponential part; four sigma over about 500 gaps.
    expect(Math.abs(mean - 1200)).toBeLessThan((4 * 900) / Math.sqrt(gaps.length));
  });
});

describe('battery', () => {
  test('sags by 10 mOhm x 1 A, and falls with what was drawn', () => {
    const spec = plainCar([{ name: 'load', awake: [{ untilAfterLock_s: 3600, mA: 1000 }], asleep_mA: 0 }]);
    const car = new Car(spec, seededRandom(1));
    expect(car.voltage_V(0)).toBeCloseTo(12.6 - 0.01, 9);
    // 1 Ah of 60 Ah, 0.9 V over all of it.
    expect(car.voltage_V(7200)).toBeCloseTo(12.6 - 0.9 / 60, 9);
  });
});

describe('the scenarios keep what they say', () => {
  const night = (name: string) => {
    const scenario = getScenario(name)!;
    return truthOf(carOf(scenario), 0, scenario.length_s);
  };

  test('steady: asleep after 20 to 25 min in several stairs, steady well over 50 mA, no wake-up', () => {
    const truth = night('steady');
    expect(truth.asleep!.after_s).toBeGreaterThan(20 * 60);
    expect(truth.asleep!.after_s).toBeLessThan(25 * 60);
    expect(truth.asleep!.level_mA).toBeGreaterThan(100);
    expect(truth.steps.filter((step) => step.to_mA < step.from_mA).length).toBeGreaterThanOrEqual(5);
    expect(truth.wakeups).toEqual([]);
  });

  test('wakes: asleep at about 19 mA, 17 wake-ups of 48 s at about 1.9 A every 34 min, one other, mean above 50 mA', () => {
    const truth = night('wakes');
    expect(truth.asleep!.level_mA).toBeGreaterThan(18);
    expect(truth.asleep!.level_mA).toBeLessThan(20);
    const family = truth.wakeups.filter((wake) => wake.modules.includes('telematics'));
    const others = truth.wakeups.filter((wake) => !wake.modules.includes('telematics'));
    expect(family.length).toBe(17);
    expect(others.length).toBe(1);
    for (const wake of family) {
      expect(wake.end_s - wake.start_s).toBeCloseTo(48, 6);
      expect(wake.mean_mA).toBeGreaterThan(1850);
      expect(wake.mean_mA).toBeLessThan(1950);
      expect(wake.modules).toEqual(['telematics']);
    }
    expect(family.every((wake) => wake.start_s > truth.asleep!.after_s)).toBe(true);
    const asleep_mC =
      carOf(getScenario('wakes')!).charge_mC(36000) - carOf(getScenario('wakes')!).charge_mC(truth.asleep!.after_s);
    expect(asleep_mC / (36000 - truth.asleep!.after_s)).toBeGreaterThan(50);
  });

  test('quiet: asleep within 30 min, well within 50 mA, no wake-up', () => {
    const truth = night('quiet');
    expect(truth.asleep!.after_s).toBeLessThan(30 * 60);
    expect(truth.asleep!.level_mA).toBeLessThan(20);
    expect(truth.wakeups).toEqual([]);
  });

  test('bench: 640, 180 and 24 mA, one pulse', () => {
    const truth = night('bench');
    expect(truth.levels.map((level) => level.mean_mA)).toEqual(
      [640, 180, 24].map((mA) => expect.closeTo(mA, 9) as number),
    );
    expect(truth.steps.map((step) => step.t_s)).toEqual([25, 50]);
    expect(truth.wakeups.length).toBe(1);
    // 0.4 s at 900 mA and an inrush of 2500 mA x 10 ms.
    expect(truth.wakeups[0]!.charge_mAh * 3600).toBeCloseTo(900 * 0.4 + 2500 * 0.01, 6);
    expect(truth.asleep).toBeNull();
  });
});
