// The charge bill of nights of two other generators, and its rounding. What a sentence
// says is read back there too.

import { describe, expect, test } from 'vitest';
import { roundToSum } from '../../../../host/analysis/meaning/bill.ts';
import { interpret, optionsFrom } from '../../../../host/analysis/meaning/interpret.ts';
import type { Trace } from '../../../../host/contract/capture.ts';
import { KINDS, nightOf, traceOf } from '../night.ts';
import { draw, NIGHT_KINDS } from '../outsider.ts';
import { billFaults } from './bill-check.ts';
import { verdictContradictions } from './read-back.ts';
import { stairs } from './scene.ts';

function faultsOf(trace: Trace): string[] {
  const night = interpret({ trace, voltage: null, fullScale_mA: null }, optionsFrom({}));
  return [...billFaults(night, trace), ...verdictContradictions(night)];
}

const seeds = process.env['NIGHTDRAW_SOAK'] === '1' ? 60 : 2;

describe('bills add up to the integral, and sentences to their numbers', () => {
  test.each(KINDS)('own nights: %s', (kind) => {
    for (let seed = 1; seed <= seeds; seed++) {
      for (const windows of [true, false]) {
        const trace = traceOf(nightOf(kind, seed), { step_s: 1, windows, noise_mA: 0.3 + (seed % 3) }, seed);
        expect(faultsOf(trace), `seed ${seed}, windows ${windows}`).toEqual([]);
      }
    }
  });

  test.each(NIGHT_KINDS)("an outsider's nights with gaps: %s", (kind) => {
    for (let seed = 1; seed <= seeds; seed++) {
      const sampling = seed % 2 === 0 ? 'points 10 Hz' : 'points 1 Hz';
      const { trace } = draw({
        seed,
        kind,
        sampling,
        load: 'none',
        noise_mA: 0.5,
        memory: 0,
        perLoad: 0,
        code_mA: 0,
        drift_mA: 0,
        gaps: true,
      });
      expect(faultsOf(trace), `seed ${seed}`).toEqual([]);
    }
  });

  test('windows of the board, with gaps counted and not', () => {
    const base = stairs(1200, 80).map(([t_s, level_mA]) => ({ t_s, level_mA }));
    const whole = traceOf(
      { duration_s: 6 * 3600, base, bursts: [{ start_s: 9000, end_s: 9100, height_mA: 700 }] },
      { step_s: 0.5, windows: true, noise_mA: 0.2 },
      3,
    );
    const isKept = (i: number) => !((i > 20_000 && i < 22_000) || (i > 30_000 && i < 31_000));
    const kept = Array.from({ length: whole.mean_mA.length }, (_, i) => i).filter(isKept);
    const pick = (values: Trace['dur_s']) => Float64Array.from(kept, (i) => values![i]!);
    const trace: Trace = {
      ...whole,
      time: { kind: 'listed', t_s: Float64Array.from(kept, (i) => i * 0.5) },
      dur_s: pick(whole.dur_s),
      mean_mA: pick(whole.mean_mA),
      min_mA: null,
      max_mA: null,
      gaps: [
        { start_s: 10_000.5, end_s: 11_000, charge_mAh: 22.21 },
        { start_s: 15_000.5, end_s: 15_500, charge_mAh: null, estimate_mAh: { low: 10.9, high: 11.3 }, uncertain_s: 2 },
      ],
    };
    expect(faultsOf(trace)).toEqual([]);
    const { bill, warnings, trace: told } = interpret({ trace, voltage: null, fullScale_mA: null }, optionsFrom({}));
    expect(
      bill.lines.map((l) => [
        l.what,
        l.count,
        l.charge_mAh === null ? null : Math.round(l.charge_mAh * 100) / 100,
        l.estimate_mAh,
      ]),
    ).toEqual([
      ['going-to-sleep', 0, expect.any(Number), null],
      // 50 mA allowed and 30 beyond, over the 18 900 s asleep that have samples: 21 600 less 1200 and less 1499.
      ['asleep-within', 0, expect.closeTo((50 * 18_900.5) / 3600, 0), null],
      ['asleep-beyond', 0, expect.closeTo((30 * 18_900.5) / 3600, 0), null],
      ['single', 1, expect.closeTo((100 * 700) / 3600, 0), null],
      ['gaps', 1, 22.21, null],
      ['gaps-unknown', 1, null, { low: 10.9, high: 11.3 }],
    ]);
    expect(told.gaps).toEqual([
      { start_s: 10_000.5, end_s: 11_000, charge_mAh: 22.21 },
      { start_s: 15_000.5, end_s: 15_500, charge_mAh: null, estimate_mAh: { low: 10.9, high: 11.3 }, uncertain_s: 2 },
    ]);
    expect(warnings.map((w) => w.code)).toEqual([]);
  });
});

test('rounding to a sum: the shown parts make the shown whole, each within one unit', () => {
  // 33.33 three times: 100 is 34 + 33 + 33 in whole ones.
  expect(roundToSum([100 / 3, 100 / 3, 100 / 3], 0)).toEqual([34, 33, 33]);
  expect(roundToSum([0.05, 0.05, 0.9], 1)).toEqual([0.1, 0, 0.9]);
  expect(roundToSum([-1.26, 2.26], 1)).toEqual([-1.3, 2.3]);
  for (let n = 1; n < 200; n++) {
    const values = Array.from({ length: (n % 9) + 1 }, (_, i) => Math.sin(n * 7 + i * 3) * 10 ** (i % 4));
    const shown = roundToSum(values, 1);
    expect(shown.reduce((a, b) => a + Math.round(b * 10), 0)).toBe(Math.round(values.reduce((a, b) => a + b, 0) * 10));
    shown.forEach((s, i) => expect(Math.abs(s - values[i]!)).toBeLessThan(0.1 + 1e-9));
  }
});
