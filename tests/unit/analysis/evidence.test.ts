// Findings that contradict themselves are worse than none: a mean over its own peak, a
// mean thinned by a gap, noise told as wake-ups, a step smaller than steps may be.

import { describe, expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import type { Trace } from '../../../host/contract/capture.ts';
import { readSeries } from '../../reference/open-data.ts';
import { traceOf } from './night.ts';

const H = 3600;

/** The same points without those in [from_s, to_s). */
function without(trace: Trace, from_s: number, to_s: number): Trace {
  const step_s = trace.time.kind === 'regular' ? trace.time.step_s : Number.NaN;
  const kept = [...trace.mean_mA.keys()].filter((i) => i * step_s < from_s || i * step_s >= to_s);
  return {
    ...trace,
    time: { kind: 'listed', t_s: Float64Array.from(kept, (i) => i * step_s) },
    mean_mA: Float64Array.from(kept, (i) => trace.mean_mA[i]!),
    gaps: [{ start_s: from_s - step_s, end_s: to_s, charge_mAh: null }],
  };
}

describe('findings agree with themselves', () => {
  test('the mean of a wake-up with a gap inside is that of what was recorded', () => {
    const plan = {
      duration_s: 6 * H,
      base: [
        { t_s: 0, level_mA: 400 },
        { t_s: 300, level_mA: 20 },
      ],
      bursts: [{ start_s: 5000, end_s: 5600, height_mA: 300 }],
    };
    const whole = traceOf(plan, { step_s: 1, windows: false, noise_mA: 0.3 }, 3);
    for (const [from_s, to_s] of [
      [5100, 5500],
      [5400, 5900],
    ] as const) {
      const f = analyse(without(whole, from_s, to_s), DEFAULT_OPTIONS);
      expect(f.wakeups).toHaveLength(1);
      expect(f.wakeups[0]!.mean_mA).toBeCloseTo(320, -1);
    }
  });

  test.each([6, 8, 12])('white noise of %d mA at 20 Hz wakes nobody', (noise_mA) => {
    for (const seed of [1, 2, 3]) {
      const plan = {
        duration_s: 5 * H,
        base: [
          { t_s: 0, level_mA: 900 },
          { t_s: 1800, level_mA: 60 },
        ],
        bursts: [{ start_s: 9000, end_s: 9030, height_mA: 200 }],
      };
      const f = analyse(traceOf(plan, { step_s: 0.05, windows: false, noise_mA }, seed), DEFAULT_OPTIONS);
      expect({ seed, wakeups: f.wakeups.length, dips: f.dips.length }).toEqual({ seed, wakeups: 1, dips: 0 });
    }
  });

  test.each(['tracebase_fridge_24h', 'lab_2load_a', 'lab_3load_a'])(
    '%s: no mean beyond its peak, no step smaller than steps may be',
    (name) => {
      const f = analyse(readSeries(name).trace, DEFAULT_OPTIONS);
      expect(f.wakeups.length).toBeGreaterThan(0);
      expect(f.wakeups.filter((w) => w.mean_mA > w.peak_mA)).toEqual([]);
      expect(f.dips.filter((w) => w.mean_mA < w.peak_mA)).toEqual([]);
      expect(f.steps.filter((s) => Math.abs(s.to_mA - s.from_mA) < 0.9 * DEFAULT_OPTIONS.step_mA)).toEqual([]);
    },
  );
});
