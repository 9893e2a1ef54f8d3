// The verdict's words, on nights whose figures are known. The codes' order is the
// project's definition; the rest is invented.

import { describe, expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import type { Burst } from './night.ts';
import { traceOf } from './night.ts';

const H = 3600;

function sentence(duration_s: number, base: [number, number][], bursts: Burst[] = [], allowance_mA = 50): string {
  const plan = { duration_s, base: base.map(([t_s, level_mA]) => ({ t_s, level_mA })), bursts };
  return analyse(traceOf(plan, { step_s: 1, windows: false, noise_mA: 0.2 }, 2), { ...DEFAULT_OPTIONS, allowance_mA })
    .verdict.sentence;
}

describe('sentences', () => {
  test('wakes: how often, how long, how much', () => {
    // 17 wake-ups of 48 s at 1.9 A in 9.6 h: 17 x 48 x 1881 / 34560 s = 44.4 mA over 19.
    const bursts = Array.from({ length: 17 }, (_, i) => ({
      start_s: 1800 + 2040 * i,
      end_s: 1848 + 2040 * i,
      height_mA: 1881,
    }));
    expect(
      sentence(
        1440 + 34560,
        [
          [0, 400],
          [1440, 19],
        ],
        bursts,
      ),
    ).toBe(
      'Asleep after 24 min at 19 mA. With its wake-ups it averages 63 mA from then on, over the 50 mA allowance; it woke 17 times, every 34 min, 48 s at 1.9 A.',
    );
  });

  test('within, with and without wake-ups', () => {
    expect(
      sentence(3 * H, [
        [0, 400],
        [1200, 19],
      ]),
    ).toBe('Asleep after 20 min at 19 mA, within the 50 mA allowance; nothing woke it.');
    expect(
      sentence(
        3 * H,
        [
          [0, 400],
          [1200, 19],
        ],
        [{ start_s: 5000, end_s: 5020, height_mA: 500 }],
      ),
    ).toBe(
      'Asleep after 20 min at 19 mA. With its wake-ups it averages 20 mA from then on, within the 50 mA allowance; it woke once, 20 s at 519 mA.',
    );
  });

  test('over from the start and over later', () => {
    expect(
      sentence(3 * H, [
        [0, 400],
        [1200, 90],
      ]),
    ).toBe('Asleep after 20 min at 90 mA, over the 50 mA allowance.');
    expect(
      sentence(6 * H, [
        [0, 400],
        [1200, 20],
        [9000, 220],
      ]),
    ).toBe('Asleep after 20 min at 20 mA, but from 2 h 30 min on it drew 220 mA, over the 50 mA allowance.');
  });

  test('a level just over the allowance is not said to be the allowance', () => {
    expect(
      sentence(3 * H, [
        [0, 400],
        [1200, 50.3],
      ]),
    ).toMatch(/at 50\.\d mA, over the 50 mA allowance/);
  });

  test('awake and short', () => {
    expect(
      sentence(1.5 * H, [
        [0, 900],
        [1500, 500],
        [3000, 200],
        [4500, 90],
      ]),
    ).toMatch(/^The car did not fall asleep in 90 min: .*last at 90 mA, 4\d\d mA on average\.$/);
    expect(sentence(0.3 * H, [[0, 300]])).toMatch(
      /^Too short to tell: 18 min recorded, last at 300 mA; record at least one hour/,
    );
  });
});
