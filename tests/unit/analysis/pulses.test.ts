// Short things: blinks and polling that belong to the level, pulses of milliseconds
// that do not, whatever the sampling. The LED train is from a workshop manual (2021):
// 65 mA for 0.1 s, 40 mA for 2 s, mean 41.2 mA (computed). The rest is invented.

import { describe, expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import type { Burst, Plan, Sampling } from './night.ts';
import { traceOf } from './night.ts';

const H = 3600;

function train(from_s: number, to_s: number, period_s: number, length_s: number, height_mA: number): Burst[] {
  const bursts: Burst[] = [];
  for (let t = from_s; t + length_s < to_s; t += period_s) bursts.push({ start_s: t, end_s: t + length_s, height_mA });
  return bursts;
}

function look(plan: Plan, sampling: Sampling) {
  return analyse(traceOf(plan, sampling, 11), DEFAULT_OPTIONS);
}

const SAMPLINGS: [string, Sampling][] = [
  ['windows of 50 ms', { step_s: 0.05, windows: true, noise_mA: 0.2 }],
  ['points at 1 kHz', { step_s: 0.001, windows: false, noise_mA: 1 }],
  ['points at 10 Hz', { step_s: 0.1, windows: false, noise_mA: 0.5 }],
  ['points at 1 Hz', { step_s: 1, windows: false, noise_mA: 0.3 }],
  ['noiseless points at 1 Hz', { step_s: 1, windows: false, noise_mA: 0 }],
];

describe.each(SAMPLINGS)('%s', (_, sampling) => {
  const duration_s = sampling.step_s < 0.01 ? 2600 : 2 * H;

  test('the blinking LED is part of its level, whose value is the mean', () => {
    const f = look(
      {
        duration_s,
        base: [
          { t_s: 0, level_mA: 400 },
          { t_s: 600, level_mA: 40 },
        ],
        bursts: train(600, duration_s, 2.1, 0.1, 25),
      },
      sampling,
    );
    expect(f.wakeups).toEqual([]);
    expect(f.dips).toEqual([]);
    expect(f.steps).toHaveLength(1);
    expect(f.asleep?.level_mA).toBeCloseTo(40 + (25 * 0.1) / 2.1, sampling.step_s > 0.05 ? 0 : 1);
  });

  test('a wake-up shows among blinks, with its charge', () => {
    const bursts = [...train(0, duration_s, 2.1, 0.1, 25), { start_s: 2000, end_s: 2040, height_mA: 700 }];
    const f = look({ duration_s, base: [{ t_s: 0, level_mA: 40 }], bursts }, sampling);
    expect(f.wakeups).toHaveLength(1);
    expect(f.steps).toEqual([]);
    expect(Math.abs(f.wakeups[0]!.start_s - 2000)).toBeLessThan(Math.max(0.2, 1.01 * sampling.step_s));
    expect(f.wakeups[0]!.charge_mAh / ((700 * 40) / H)).toBeCloseTo(1, 1);
  });
});

describe.each([
  ['every 0.3 s, 8 ms of 150 mA', 0.3, 0.008, 150],
  ['every 1 s, 20 ms of 300 mA', 1, 0.02, 300],
  ['every 3.1 s, 100 ms of 1 A', 3.1, 0.1, 1000],
  ['every 4.9 s, 50 ms of 200 mA', 4.9, 0.05, 200],
])('polling %s', (_, period_s, length_s, height_mA) => {
  const mean_mA = 15 + (height_mA * length_s) / period_s;
  test.each(SAMPLINGS.slice(0, 2))('is part of the level, %s', (__, sampling) => {
    const duration_s = sampling.windows ? 2 * H : 2600;
    const f = look(
      {
        duration_s,
        base: [
          { t_s: 0, level_mA: 400 },
          { t_s: 600, level_mA: 15 },
        ],
        bursts: train(0, duration_s, period_s, length_s, height_mA),
      },
      sampling,
    );
    expect(f.wakeups).toEqual([]);
    expect(f.dips).toEqual([]);
    expect(f.steps.map((s) => Math.round(s.t_s))).toEqual([expect.closeTo(600, -0.5) as number]);
    expect(f.asleep?.level_mA).toBeCloseTo(mean_mA, 0);
  });

  test.each(SAMPLINGS.slice(0, 2))(
    'that begins in the night is a step where it is large enough, %s',
    (__, sampling) => {
      const duration_s = sampling.windows ? 2 * H : 2600;
      const f = look(
        {
          duration_s,
          base: [{ t_s: 0, level_mA: 15 }],
          bursts: train(1300, duration_s, period_s, length_s, height_mA),
        },
        sampling,
      );
      expect(f.wakeups).toEqual([]);
      const large = mean_mA - 15 >= 5;
      expect(f.steps).toHaveLength(large ? 1 : 0);
      if (large) expect(Math.abs(f.steps[0]!.t_s - 1300)).toBeLessThan(period_s + 1);
    },
  );

  test.each(SAMPLINGS.slice(0, 2))('does not hide a wake-up or a step, %s', (__, sampling) => {
    const duration_s = sampling.windows ? 2 * H : 2600;
    const bursts = [
      ...train(0, duration_s, period_s, length_s, height_mA),
      { start_s: 1000, end_s: 1030, height_mA: 800 },
    ];
    const f = look(
      {
        duration_s,
        base: [
          { t_s: 0, level_mA: 15 },
          { t_s: 1500, level_mA: 40 },
        ],
        bursts,
      },
      sampling,
    );
    expect(f.wakeups.map((w) => Math.round(w.start_s))).toEqual([expect.closeTo(1000, -0.5) as number]);
    expect(f.steps.map((s) => Math.round(s.to_mA - s.from_mA))).toEqual([25]);
    expect(Math.abs(f.steps[0]!.t_s - 1500)).toBeLessThan(2);
  });
});

describe('pulses shorter than a tick', () => {
  test.each([
    [0.003, 900],
    [0.005, 300],
    [0.02, 100],
    [0.1, 60],
    [0.4, 30],
    [0.7, 200],
    [1.3, 50],
    [3, 25],
  ])('%d s of %d mA shows in windows of 50 ms, with its charge', (length_s, height_mA) => {
    const starts = [2000.013, 3500.031, 6000.049];
    const bursts = starts.map((start_s) => ({ start_s, end_s: start_s + length_s, height_mA }));
    const f = look(
      { duration_s: 2 * H, base: [{ t_s: 0, level_mA: 20 }], bursts },
      { step_s: 0.05, windows: true, noise_mA: 0.05 },
    );
    expect(f.steps).toEqual([]);
    expect(f.wakeups).toHaveLength(3);
    f.wakeups.forEach((w, i) => {
      expect(Math.abs(w.start_s - starts[i]!)).toBeLessThan(0.051);
      expect(w.end_s - w.start_s).toBeCloseTo(length_s, 1);
      expect(w.peak_mA - 20).toBeGreaterThan(0.95 * height_mA - 1);
      expect(w.charge_mAh / ((length_s * height_mA) / H)).toBeCloseTo(1, 1);
    });
  });

  test.each([
    [0.004, 60],
    [0.02, 40],
    [0.3, 25],
  ])('%d s of %d mA shows in points at 1 kHz', (length_s, height_mA) => {
    const bursts = [800.5, 1500.25, 2000.125].map((start_s) => ({ start_s, end_s: start_s + length_s, height_mA }));
    const f = look(
      { duration_s: 2500, base: [{ t_s: 0, level_mA: 20 }], bursts },
      { step_s: 0.001, windows: false, noise_mA: 1 },
    );
    expect(f.wakeups.map((w) => w.start_s)).toEqual(bursts.map((b) => expect.closeTo(b.start_s, 1.5) as number));
    f.wakeups.forEach((w) => expect(w.end_s - w.start_s).toBeCloseTo(length_s, 1.5));
  });

  test('two in one tick are two', () => {
    const bursts = [
      { start_s: 2000.1, end_s: 2000.2, height_mA: 300 },
      { start_s: 2000.6, end_s: 2000.7, height_mA: 300 },
    ];
    const f = look(
      { duration_s: H, base: [{ t_s: 0, level_mA: 20 }], bursts },
      { step_s: 0.05, windows: true, noise_mA: 0.1 },
    );
    expect(f.wakeups).toHaveLength(2);
  });

  test('a fall of 30 ms that comes back is a dip', () => {
    const f = look(
      {
        duration_s: H,
        base: [{ t_s: 0, level_mA: 80 }],
        bursts: [{ start_s: 2000.01, end_s: 2000.04, height_mA: -60 }],
      },
      { step_s: 0.05, windows: true, noise_mA: 0.1 },
    );
    expect(f.dips).toHaveLength(1);
    expect(f.dips[0]!.charge_mAh).toBeCloseTo((-60 * 0.03) / H, 4);
    expect(f.wakeups).toEqual([]);
  });
});
