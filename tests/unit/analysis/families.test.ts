// Families and their periods from given events. Invented; no source but the definition.

import { describe, expect, test } from 'vitest';
import { familiesOf } from '../../../host/analysis/wakeups/families.ts';
import { periodOf } from '../../../host/analysis/wakeups/periods.ts';
import { randomFrom } from './night.ts';

describe('period', () => {
  test('kept, with members missed and times that stray', () => {
    const random = randomFrom(3);
    for (let run = 0; run < 50; run++) {
      const period = 300 + 3000 * random();
      const starts = Array.from({ length: 20 }, (_, i) => 1000 + period * (i + 0.08 * (random() - 0.5))).filter(
        () => random() > 0.2,
      );
      expect(periodOf(starts, 1)!.period_s / period).toBeCloseTo(1, 1.7);
    }
  });

  test('not moved by a stray member between two others', () => {
    const starts = Array.from({ length: 20 }, (_, i) => 600 * i);
    expect(
      periodOf(
        [...starts, 600 * 7.4].sort((a, b) => a - b),
        1,
      )!.period_s,
    ).toBeCloseTo(600, 6);
  });

  test('none in random times but in one family of a hundred, and the chance is told', () => {
    const random = randomFrom(4);
    const RUNS = 2000;
    for (const count of [3, 4, 5, 6, 8, 12, 30]) {
      let [claimed, likely] = [0, 0];
      for (let run = 0; run < RUNS; run++) {
        let t = 0;
        const period = periodOf(
          Array.from({ length: count }, () => (t += 60 - 600 * Math.log(1 - random()))),
          0.001,
        );
        if (period === null) continue;
        claimed++;
        if (period.chance <= 0.001) likely++;
      }
      expect(claimed, `${count} starts`).toBeLessThanOrEqual(0.01 * RUNS);
      expect(likely, `${count} starts`).toBeLessThanOrEqual(0.001 * RUNS + 2);
    }
  });

  test('two starts keep none, three equal spacings do, three that stray by a hundredth do not', () => {
    expect(periodOf([0, 100], 0.05)).toBeNull();
    expect(periodOf([0, 100, 201, 300], 0.05)!.period_s).toBeCloseTo(100, 0);
    expect(periodOf([0, 3600, 7201], 0.05)!.period_s).toBeCloseTo(3600.5, 6);
    expect(periodOf([0, 3600, 7236], 0.05)).toBeNull();
    // The same times known to half a minute alone.
    expect(periodOf([0, 3600, 7201], 30)).toBeNull();
  });

  test('of a family of which every third is hidden', () => {
    const starts = Array.from({ length: 18 }, (_, i) => 240 * i).filter((_, i) => i % 3 !== 2);
    expect(periodOf(starts, 0.05)!.period_s).toBeCloseTo(240, 6);
  });
});

test('alike in length and height is a family; one alone has none', () => {
  const event = (start_s: number, length_s: number, height_mA: number) => ({
    start_s,
    end_s: start_s + length_s,
    height_mA,
    top_mA: height_mA,
    charge_mAh: (length_s * height_mA) / 3600,
  });
  const { families, of } = familiesOf(
    [
      event(0, 48, 1900),
      event(500, 5, 300),
      event(1000, 50, 1850),
      event(1500, 5.2, 310),
      event(2000, 47, 1920),
      event(3000, 600, 90),
    ],
    0.05,
    true,
  );
  expect(of).toEqual([1, 2, 1, 2, 1, null]);
  expect(families.map((f) => [f.count, f.duration_s, f.period_s])).toEqual([
    [3, 48, 1000],
    [2, expect.closeTo(5.1, 5), null],
  ]);
});

test('pulses shorter than a window are alike in charge and peak, however the window cuts them', () => {
  const pulse = (start_s: number, inFirst: number, charge_mAh: number, top_mA: number | null) => ({
    start_s,
    end_s: start_s + (inFirst === 1 ? 0.01 : 0.08),
    height_mA: inFirst === 1 ? 1000 : 125,
    top_mA,
    charge_mAh,
  });
  const pulses = [pulse(0, 1, 0.003, 1000), pulse(60, 0.5, 0.0031, 1010), pulse(119, 1, 0.003, 300)];
  const familiesIn = (some: typeof pulses, windows: boolean) => familiesOf(some, 0.05, windows).of;
  expect(familiesIn(pulses, true)).toEqual([1, 1, null]);
  expect(familiesIn(pulses, false)).toEqual([1, null, 1]);
  // Without the peaks of windows charge alone tells.
  expect(
    familiesIn(
      pulses.map((one) => ({ ...one, top_mA: null })),
      true,
    ),
  ).toEqual([1, 1, 1]);
});
