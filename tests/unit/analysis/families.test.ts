// Families and their periods from given events. Invented; no source but the definition.

import { describe, expect, test } from 'vitest';
import { familiesOf, periodOf } from '../../../host/analysis/wakeups/families.ts';
import { randomFrom } from './night.ts';

describe('period', () => {
  test('kept, with members missed and times that stray', () => {
    const random = randomFrom(3);
    for (let run = 0; run < 50; run++) {
      const period = 300 + 3000 * random();
      const starts = Array.from({ length: 20 }, (_, i) => 1000 + period * (i + 0.08 * (random() - 0.5))).filter(
        () => random() > 0.2,
      );
      expect(periodOf(starts)! / period).toBeCloseTo(1, 1.7);
    }
  });

  test('not moved by a stray member between two others', () => {
    const starts = Array.from({ length: 20 }, (_, i) => 600 * i);
    expect(periodOf([...starts, 600 * 7.4].sort((a, b) => a - b))).toBeCloseTo(600, 6);
  });

  test('none in random times, in nine of ten runs', () => {
    const random = randomFrom(4);
    let claimed = 0;
    for (let run = 0; run < 200; run++) {
      let t = 0;
      const starts = Array.from({ length: 12 }, () => (t += -600 * Math.log(1 - random())));
      if (periodOf(starts) !== null) claimed++;
    }
    expect(claimed).toBeLessThanOrEqual(20);
  });

  test('two events keep none, three equal spacings do', () => {
    expect(periodOf([0, 100])).toBeNull();
    expect(periodOf([0, 100, 201, 300])).toBeCloseTo(100, 0);
  });
});

test('alike in length and height is a family; one alone has none', () => {
  const event = (start_s: number, length_s: number, height_mA: number) => ({
    start_s,
    end_s: start_s + length_s,
    height_mA,
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
  );
  expect(of).toEqual([1, 2, 1, 2, 1, null]);
  expect(families.map((f) => [f.count, f.duration_s, f.period_s])).toEqual([
    [3, 48, 1000],
    [2, expect.closeTo(5.1, 5), null],
  ]);
});
