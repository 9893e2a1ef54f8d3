// The shipped image in the emulated board against the modelled car's exact integral:
// windows, time stamps, charge, sampling rate, time awake.
import { describe, expect, test } from 'vitest';
import { SHUNT_OHM } from '../../host/emulator/board.ts';
import { getScenario } from '../../host/emulator/car/scenarios.ts';
import type { CarSpec } from '../../host/emulator/car/spec.ts';
import { WINDOW_FLAG } from '../../host/contract/capture.ts';
import { carOf, clockOffset_s, nearest, startRun } from './board-run.ts';
import type { BoardRun } from './board-run.ts';
import { SOAK } from './length.ts';

/**
 * Noise of one conversion, from the data sheet's 12.6 noise-free bits at +-40.96 mV
 * and 1052 us taken as 6.6 standard deviations: 81.92 mV / 2^12.6 / 6.6 = 2.0 uV, 0.40 mA.
 */
const NOISE_MA = (81.92e-3 / 2 ** 12.6 / 6.6 / SHUNT_OHM) * 1000;
/** Step of the wide range, the coarser: 312.5 nV. Rounding errs by half of it at most. */
const STEP_MA = (312.5e-9 / SHUNT_OHM) * 1000;
/** PROTOCOL.md: a mean is rounded to a whole microampere. */
const LINE_MA = 0.0005;
/** With some thousand windows five deviations are passed once in a thousand runs; the seed is fixed. */
const SIGMAS = 5;
/** Longest time without a conversion at work in a window: restarts for voltage and range (sampler.c), in two places. */
const BLIND_S = 1.5e-3;

/** How long each level of the bench scenario is held: 25 s as it ships, less where nobody waits for it. */
const LEVEL_S = SOAK ? 25 : 7;
const LENGTH_S = 3 * LEVEL_S + 3;

/** The scenario's car on a clock of its own pace. */
function benchCar(): CarSpec {
  const { car } = getScenario('bench')!;
  const pace = LEVEL_S / 25;
  return {
    ...car,
    modules: car.modules.map((module) => ({
      ...module,
      awake: module.awake.map((stage) => ({ ...stage, untilAfterLock_s: stage.untilAfterLock_s * pace })),
      wakes: (module.wakes ?? []).map((wake) => (wake.when === 'once' ? { ...wake, at_s: wake.at_s * pace } : wake)),
    })),
  };
}

const bench = startRun({ car: benchCar(), id: 0xc0ffee, speed: 7 });
bench.board.runFor(LENGTH_S);

/** Each window's mean as the car has it, over the same true interval. */
function expected(run: BoardRun): { mean_mA: number; bound_mA: number }[] {
  const offset_s = clockOffset_s(run);
  const { car } = run.board;
  return run.windows.map((window) => {
    const to_s = window.t_us / 1e6 + offset_s;
    const from_s = to_s - window.dur_us / 1e6;
    const mean_mA = (car.charge_mC(to_s) - car.charge_mC(from_s)) / (to_s - from_s);
    const noise_mA = (SIGMAS * NOISE_MA) / Math.sqrt(window.count);
    // Where the current is not level in it, what flows while nothing converts is not seen.
    const spread_mA = (window.max_uA - window.min_uA) / 1000;
    const uneven_mA = spread_mA > 2 * SIGMAS * NOISE_MA ? (spread_mA * BLIND_S) / (to_s - from_s) : 0;
    return { mean_mA, bound_mA: noise_mA + STEP_MA / 2 + LINE_MA + uneven_mA };
  });
}

describe('windows of the bench scenario', () => {
  test('no line is damaged, none missing, each type counts from 0', () => {
    expect(bench.bad).toEqual([]);
    for (const list of [bench.windows, bench.voltages])
      expect(list.map((reading) => reading.seq)).toEqual(list.map((_, i) => i));
    expect(bench.windows.length).toBeGreaterThan(LENGTH_S * 19.8);
    expect(bench.voltages.length).toBeGreaterThanOrEqual(LENGTH_S - 1);
    expect(bench.voltages.at(-1)!.dropped).toBe(0);
    expect(bench.statuses).toEqual([]);
  });

  test('they tile time', () => {
    const joined = bench.windows.slice(1).every((window, i) => window.t_us - window.dur_us === bench.windows[i]!.t_us);
    expect(joined).toBe(true);
    expect(bench.windows.map((window) => (window.flags & WINDOW_FLAG.notJoined) !== 0)).toEqual(
      bench.windows.map((_, i) => i === 0),
    );
  });

  test('each mean is the car’s over the same interval, within the noise', () => {
    const wrong = expected(bench)
      .map((want, i) => ({ ...want, got_mA: bench.windows[i]!.mean_uA / 1000, t_us: bench.windows[i]!.t_us }))
      .filter(({ mean_mA, bound_mA, got_mA }) => Math.abs(got_mA - mean_mA) > bound_mA);
    expect(wrong).toEqual([]);
  });

  test('levels over their whole length are 640, 180 and 24 mA within the noise of their mean', () => {
    const mean_mA = (from_s: number, to_s: number) => {
      const inside = bench.windows.filter(
        (window) => (window.t_us - window.dur_us) / 1e6 > from_s && window.t_us / 1e6 < to_s,
      );
      const time_us = inside.reduce((sum, window) => sum + window.dur_us, 0);
      return inside.reduce((sum, window) => sum + window.mean_uA * window.dur_us, 0) / time_us / 1000;
    };
    // 900 conversions a second at least, and the lesser one of each level's rounding.
    const bound_mA = (SIGMAS * NOISE_MA) / Math.sqrt(900 * (LEVEL_S - 1.1)) + LINE_MA;
    expect(bound_mA).toBeLessThan(0.03);
    [640, 180, 24].forEach((level_mA, i) => {
      expect(
        Math.abs(mean_mA(i * LEVEL_S + (i === 0 ? 1 : 0.1), (i + 1) * LEVEL_S - 0.1) - level_mA),
        `${level_mA} mA`,
      ).toBeLessThan(bound_mA);
    });
  });

  test('the pulse is seen at its height: inrush of 2500 mA over 924 mA, tau 10 ms', () => {
    const peak_mA = Math.max(...bench.windows.map((window) => window.max_uA)) / 1000;
    // The conversion with the start in it and the one after bracket the peak: at least exp(-1.5/10) of it.
    expect(peak_mA).toBeLessThan(924 + 2500 + SIGMAS * NOISE_MA);
    expect(peak_mA).toBeGreaterThan(924 + 2500 * Math.exp(-1.6 / 10));
  });

  test('battery voltage and temperature', () => {
    for (const reading of bench.voltages) {
      const at_s = reading.t_us / 1e6 + clockOffset_s(bench);
      // 12.6 V less 10 mOhm x current: 1 mV of rounding, five deviations of the 0.2 mV assumed.
      expect(Math.abs(reading.bus_mV - bench.board.car.voltage_V(at_s) * 1000)).toBeLessThan(0.5 + 1 + 0.1);
      expect(Math.abs(reading.temp_mC - 20_000)).toBeLessThanOrEqual(8);
    }
  });

  test('the port runs at 500 000 baud', () => {
    expect(bench.board.baud).toBe(500_000);
  });
});

describe('sampling', () => {
  test('near 1 kHz, none missed', () => {
    const first = bench.windows[1]!;
    const last = bench.windows.at(-1)!;
    const count = bench.windows.slice(2).reduce((sum, window) => sum + window.count, 0);
    const rate_Hz = count / ((last.t_us - first.t_us) / 1e6);
    expect(rate_Hz).toBeGreaterThan(900);
    expect(rate_Hz).toBeLessThan(1000);
    expect(bench.windows.filter((window) => window.flags & WINDOW_FLAG.conversionMissed)).toEqual([]);
  });

  test('time stamps are within 20 us of the true ends of conversions', () => {
    const offset_s = clockOffset_s(bench);
    const errors_us = bench.windows.map((window) => {
      const t_s = window.t_us / 1e6 + offset_s;
      return Math.abs(nearest(bench.conversions_s, t_s) - t_s) * 1e6;
    });
    expect(Math.max(...errors_us)).toBeLessThanOrEqual(20);
  });

  test('the CPU is awake for 35 % of the time at most', () => {
    expect(bench.board.stats().awakeShare).toBeLessThan(0.35);
    expect(bench.board.stats().awakeShare).toBeGreaterThan(0.02);
  });
});

describe('charge', () => {
  // Steps over both ranges and back (8.192 A is the end of the narrow one), pulses of 2 ms.
  const pulses = {
    when: 'every' as const,
    first_s: 2.05,
    period_s: 0.31,
    jitter_s: 0.1,
    stages: [{ duration_s: 0.002, rise_mA: 6000 }],
  };
  const car = carOf([
    {
      name: 'staircase',
      awake: [
        { untilAfterLock_s: 3, mA: 250 },
        { untilAfterLock_s: 6, mA: 11_000 },
        { untilAfterLock_s: 10, mA: 60 },
      ],
      asleep_mA: 7000,
    },
    { name: 'receiver', awake: [], asleep_mA: 0.5, wakes: [pulses] },
  ]);
  const run = startRun({ car, seed: 3 });
  run.board.runFor(14);

  test('the running charge is the car’s integral within 0.1 %', () => {
    const offset_s = clockOffset_s(run);
    const at_mC = (t_us: number) => run.board.car.charge_mC(t_us / 1e6 + offset_s);
    const first = run.windows[0]!;
    const last = run.windows.at(-1)!;
    const true_mC = at_mC(last.t_us) - at_mC(first.t_us - first.dur_us);
    expect(Math.abs(last.charge_nC / 1e6 / true_mC - 1)).toBeLessThan(0.001);
    expect(run.windows.some((window) => window.flags & WINDOW_FLAG.rangeSwitched)).toBe(true);
    expect(run.windows.some((window) => window.flags & WINDOW_FLAG.wideRange)).toBe(true);
    expect(run.bad).toEqual([]);
  });

  test('each window’s charge is its mean times its time where the current is level', () => {
    const level = run.windows.slice(1).flatMap((window, i) => {
      const charge_nC = window.charge_nC - run.windows[i]!.charge_nC;
      return window.max_uA - window.min_uA < 8000
        ? [{ window, ratio: charge_nC / ((window.mean_uA * window.dur_us) / 1000) }]
        : [];
    });
    expect(level.length).toBeGreaterThan(50);
    // The share of a window that one reading stands for longer than another: 0.4 ms of 50, times the noise over the
    // level.
    for (const { window, ratio } of level)
      expect(Math.abs(ratio - 1)).toBeLessThan(0.0005 + (0.02 * NOISE_MA) / (window.mean_uA / 1000));
  });

  test('a current beyond the wide range (32.8 A) is flagged as clipped, and never shown larger', () => {
    const over = startRun({
      car: carOf([{ name: 'starter', awake: [{ untilAfterLock_s: 1, mA: 1000 }], asleep_mA: 40_000 }]),
    });
    over.board.runFor(3);
    const after = over.windows.filter((window) => window.t_us / 1e6 > 1.2);
    expect(after.length).toBeGreaterThan(20);
    expect(after.every((window) => (window.flags & WINDOW_FLAG.clipped) !== 0)).toBe(true);
    // 163.84 mV / 5 mOhm.
    expect(Math.max(...after.map((window) => window.max_uA))).toBeLessThanOrEqual(32_768_000);
    expect(
      over.windows.filter((window) => window.t_us / 1e6 < 0.9).some((window) => window.flags & WINDOW_FLAG.clipped),
    ).toBe(false);
  });

  test('a negative current (charger, or clamps swapped) is told with its sign', () => {
    const charging = startRun({ car: carOf([{ name: 'charger', awake: [], asleep_mA: -500 }]) });
    charging.board.runFor(2);
    for (const window of charging.windows) {
      expect(Math.abs(window.mean_uA + 500_000)).toBeLessThan(SIGMAS * NOISE_MA * 1000);
      expect(window.flags & WINDOW_FLAG.negative).toBe(WINDOW_FLAG.negative);
    }
    expect(charging.windows.at(-1)!.charge_nC).toBeLessThan(0);
  });
});
