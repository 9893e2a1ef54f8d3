// Traces at the edge of what can be analysed: next to nothing, gaps, coarse or odd
// sampling, strange noise, nonsense. Invented; no source but the definitions.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import type { Trace } from '../../../host/contract/capture.ts';
import { courseOf, normalFrom, pointsOf, randomFrom, traceOf } from './night.ts';

const H = 3600;

function points(t_s: number[] | Float64Array, mA: number[] | Float64Array, gaps: Trace['gaps'] = []): Trace {
  return {
    kind: 'points',
    start_ms: null,
    time: { kind: 'listed', t_s: Float64Array.from(t_s) },
    dur_s: null,
    mean_mA: Float64Array.from(mA),
    min_mA: null,
    max_mA: null,
    gaps,
  };
}

function regular(mA: Float64Array, step_s = 1): Trace {
  return {
    kind: 'points',
    start_ms: null,
    time: { kind: 'regular', step_s },
    dur_s: null,
    mean_mA: mA,
    min_mA: null,
    max_mA: null,
    gaps: [],
  };
}

describe('next to nothing', () => {
  test('no sample', () => {
    const f = analyse(points([], []), DEFAULT_OPTIONS);
    expect(f).toMatchObject({
      asleep: null,
      steps: [],
      wakeups: [],
      dips: [],
      levels: [],
      verdict: { code: 'short' },
      charge: { total_mAh: 0, gaps_mAh: null },
    });
  });

  test('one sample and two samples', () => {
    expect(analyse(points([0], [20]), DEFAULT_OPTIONS)).toMatchObject({
      asleep: null,
      steps: [],
      verdict: { code: 'short' },
      charge: { total_mAh: 0 },
      trace: { mean_mA: 20, duration_s: 0 },
    });
    const two = analyse(points([0, 36], [10, 30]), DEFAULT_OPTIONS);
    expect(two).toMatchObject({ asleep: null, steps: [], wakeups: [] });
    expect(two.charge.total_mAh).toBeCloseTo(0.2, 12);
    expect(two.trace.mean_mA).toBeCloseTo(20, 12);
  });

  test('one window', () => {
    const f = analyse({ ...points([0], [40]), kind: 'windows', dur_s: Float32Array.of(9) }, DEFAULT_OPTIONS);
    expect(f.charge.total_mAh).toBeCloseTo(0.1, 12);
    expect(f.trace.duration_s).toBe(9);
  });

  test('a constant trace', () => {
    const f = analyse(regular(new Float64Array(4 * H).fill(23)), DEFAULT_OPTIONS);
    expect(f).toMatchObject({
      asleep: { after_s: 0, level_mA: 23 },
      steps: [],
      wakeups: [],
      verdict: { code: 'within' },
    });
  });

  test('a negative trace: a charger is connected', () => {
    const f = analyse(regular(new Float64Array(4 * H).fill(-500)), DEFAULT_OPTIONS);
    expect(f.asleep?.level_mA).toBeCloseTo(-500, 9);
  });
});

describe('gaps', () => {
  const plan = {
    duration_s: 4 * H,
    base: [
      { t_s: 0, level_mA: 400 },
      { t_s: 900, level_mA: 20 },
    ],
    bursts: [{ start_s: 9000, end_s: 9050, height_mA: 600 }],
  };
  function holed(from_s: number, to_s: number, charge_mAh: number | null | undefined, plan_ = plan): Trace {
    const whole = pointsOf(courseOf(plan_), { step_s: 1, windows: false, noise_mA: 0.3 }, 3);
    const t: number[] = [];
    const mA: number[] = [];
    whole.mean_mA.forEach((value, i) => {
      if (i > from_s && i < to_s) return;
      t.push(i);
      mA.push(value);
    });
    return points(t, mA, charge_mAh === undefined ? [] : [{ start_s: from_s, end_s: to_s, charge_mAh }]);
  }

  test('a gap on a level makes no step', () => {
    const f = analyse(holed(4000, 5200, undefined), DEFAULT_OPTIONS);
    expect(f.trace.gaps).toEqual([{ start_s: 4000, end_s: 5200 }]);
    expect(f.steps).toHaveLength(1);
    expect(f.wakeups).toHaveLength(1);
    expect(f.charge.gaps_mAh).toBeNull();
    const covered_s = 4 * H - 1200;
    expect(f.trace.mean_mA).toBeCloseTo((f.charge.total_mAh * 3600) / covered_s, 9);
  });

  test('the charge of a known gap is in the bill', () => {
    const f = analyse(holed(4000, 5200, 6.7), DEFAULT_OPTIONS);
    expect(f.charge.gaps_mAh).toBe(6.7);
    const { going_to_sleep_mAh, asleep_mAh, wakeups_mAh, total_mAh } = f.charge;
    expect(going_to_sleep_mAh + asleep_mAh + wakeups_mAh + 6.7).toBeCloseTo(total_mAh, 9);
  });

  test('a level that changed during a gap is a step at its end', () => {
    const f = analyse(holed(600, 1200, undefined), DEFAULT_OPTIONS);
    expect(f.steps.map((s) => s.t_s)).toEqual([1200]);
    expect(f.asleep?.after_s).toBe(1200);
  });

  test('drift over a gap of three hours is no step', () => {
    const slow = { duration_s: 8 * H, base: [{ t_s: 0, level_mA: 20 }], bursts: [] };
    const trace = holed(6000, 6000 + 3 * H, undefined, slow);
    trace.mean_mA.forEach(
      (value, i) => (trace.mean_mA[i] = value + 2.5 * Math.sin((trace.time as { t_s: Float64Array }).t_s[i]! / 9000)),
    );
    expect(analyse(trace, DEFAULT_OPTIONS).steps).toEqual([]);
  });

  test('a wake-up cut by a gap ends when the current is seen back', () => {
    const f = analyse(holed(9020, 9200, undefined), DEFAULT_OPTIONS);
    expect(f.wakeups).toHaveLength(1);
    expect(f.wakeups[0]!.start_s).toBeCloseTo(9000, 0);
    expect(f.wakeups[0]!.end_s).toBeCloseTo(9200, 0);
    expect(f.wakeups[0]!.charge_mAh).toBeCloseTo((600 * 20) / H, 0);
  });

  test('1 s logs with spacings of up to 4 s have no gap; over 5 s they have', () => {
    const t = [0, 1, 2, 3, 7, 8, 9, 15, 16, 17, 18];
    expect(
      analyse(
        points(
          t,
          t.map(() => 20),
        ),
        DEFAULT_OPTIONS,
      ).trace.gaps,
    ).toEqual([{ start_s: 9, end_s: 15 }]);
  });
});

describe('sampling', () => {
  const plan = {
    duration_s: 6 * H,
    base: [
      { t_s: 0, level_mA: 700 },
      { t_s: 400, level_mA: 250 },
      { t_s: 1300, level_mA: 21.4 },
    ],
    bursts: [
      { start_s: 6000, end_s: 6055, height_mA: 400 },
      { start_s: 11000, end_s: 11400, height_mA: 150 },
    ],
  };

  test('irregular logs of 1 to 30 s', () => {
    const random = randomFrom(5);
    const course = courseOf(plan);
    const t: number[] = [];
    for (let at = 0; at < plan.duration_s; at += 1 + Math.floor(29 * random() ** 3)) t.push(at);
    const normal = normalFrom(random);
    const mA = t.map((at) => course.mA[course.t_s.findLastIndex((s) => s <= at)]! + 0.5 * normal());
    const f = analyse(points(t, mA), DEFAULT_OPTIONS);
    expect(f.steps.map((s) => Math.round(s.to_mA - s.from_mA))).toEqual([-450, -229]);
    expect(f.wakeups).toHaveLength(2);
    f.wakeups.forEach((w, i) => expect(Math.abs(w.start_s - plan.bursts[i]!.start_s)).toBeLessThan(30));
    expect(f.asleep?.level_mA).toBeCloseTo(21.4, 0);
  });

  test('1 Hz in whole milliamperes', () => {
    for (const noise_mA of [0, 0.1, 0.4, 1.5]) {
      const f = analyse(traceOf(plan, { step_s: 1, windows: false, noise_mA, resolution_mA: 1 }, 9), DEFAULT_OPTIONS);
      expect(f.steps.map((s) => Math.round(s.t_s))).toEqual([400, 1300]);
      expect(f.wakeups.map((w) => Math.round(w.start_s))).toEqual([6000, 11000]);
      expect(Math.abs(f.asleep!.level_mA - 21.4)).toBeLessThan(0.7);
    }
  });

  test.each([0.1, 0.5, 1, 3])('noise of %d mA: the same findings', (noise_mA) => {
    for (let seed = 1; seed <= 5; seed++) {
      const f = analyse(traceOf(plan, { step_s: 1, windows: false, noise_mA }, seed), DEFAULT_OPTIONS);
      expect(f.steps.map((s) => s.t_s)).toEqual([
        expect.closeTo(400, -0.5) as number,
        expect.closeTo(1300, -0.5) as number,
      ]);
      expect(f.wakeups).toHaveLength(2);
      expect(f.dips).toEqual([]);
    }
  });

  test('noise that grows with the load, and noise with memory', () => {
    const normal = normalFrom(randomFrom(21));
    const clean = traceOf(plan, { step_s: 1, windows: false, noise_mA: 0 }, 1);
    let memory = 0;
    const grown = Float64Array.from(clean.mean_mA, (v) => v + (0.3 + 0.03 * v) * normal());
    const slow = Float64Array.from(clean.mean_mA, (v) => v + (memory = 0.9 * memory + 0.7 * normal()));
    for (const mean_mA of [grown, slow]) {
      const f = analyse({ ...clean, mean_mA }, DEFAULT_OPTIONS);
      expect(f.steps).toHaveLength(2);
      expect(f.wakeups).toHaveLength(2);
      expect(f.wakeups.every((w) => w.steps.length === 0)).toBe(true);
      expect(f.dips).toEqual([]);
    }
  });

  test('the origin of time does not matter', () => {
    const trace = traceOf(plan, { step_s: 1, windows: false, noise_mA: 0.5 }, 4);
    const t_s = Float64Array.from(trace.mean_mA, (_, i) => i);
    const from0 = analyse({ ...trace, time: { kind: 'listed', t_s } }, DEFAULT_OPTIONS);
    const later = analyse({ ...trace, time: { kind: 'listed', t_s: t_s.map((t) => t + 4096) } }, DEFAULT_OPTIONS);
    expect(later).toEqual(from0);
    expect(analyse(trace, DEFAULT_OPTIONS)).toEqual(from0);
  });
});

describe('nonsense', () => {
  test.each([Number.NaN, Infinity, -Infinity])('%d is refused by the number of its sample', (value) => {
    const mA = new Float64Array(100).fill(20);
    mA[37] = value;
    expect(() => analyse(regular(mA), DEFAULT_OPTIONS)).toThrow(/sample 37 /);
  });

  test('NaN in the range, the times or the window lengths is refused', () => {
    const trace = regular(new Float64Array(50).fill(20));
    const bad = new Float64Array(50).fill(20);
    bad[3] = Number.NaN;
    expect(() => analyse({ ...trace, max_mA: bad, min_mA: trace.mean_mA }, DEFAULT_OPTIONS)).toThrow(
      /sample 3 has the highest current NaN/,
    );
    expect(() => analyse({ ...trace, min_mA: bad, max_mA: trace.mean_mA }, DEFAULT_OPTIONS)).toThrow(
      /sample 3 has the lowest current NaN/,
    );
    expect(() => analyse({ ...trace, kind: 'windows', dur_s: bad }, DEFAULT_OPTIONS)).toThrow(
      /sample 3 has the length NaN/,
    );
    expect(() => analyse(points([0, 1, Number.NaN], [1, 2, 3]), DEFAULT_OPTIONS)).toThrow(/sample 2 has the time NaN/);
    expect(() => analyse(points([0, 2, 1], [1, 2, 3]), DEFAULT_OPTIONS)).toThrow(/sample 2 at 1 s is earlier/);
  });

  test.each(['allowance_mA', 'step_mA', 'hold_s', 'rise_mA'] as const)('%s of 0, -1 or NaN is refused', (name) => {
    for (const value of [0, -1, Number.NaN])
      expect(() => analyse(regular(new Float64Array(10)), { ...DEFAULT_OPTIONS, [name]: value })).toThrow(name);
  });
});

describe('any finite input', () => {
  const value = fc.oneof(
    fc.double({ min: -1e6, max: 1e6, noNaN: true }),
    fc.integer({ min: 0, max: 3000 }),
    fc.constantFrom(0, 20, 500),
  );
  const runs = fc.array(fc.tuple(value, fc.integer({ min: 1, max: 200 })), { minLength: 0, maxLength: 40 });

  test('never throws, and the charge adds up', () => {
    fc.assert(
      fc.property(runs, fc.constantFrom(0.05, 1, 7), fc.boolean(), (parts, step_s, windows) => {
        const mean_mA = Float64Array.from(parts.flatMap(([mA, n]) => Array<number>(n).fill(mA)));
        const trace = regular(mean_mA, step_s);
        const f = analyse(
          windows ? { ...trace, kind: 'windows', dur_s: new Float64Array(mean_mA.length).fill(step_s) } : trace,
          DEFAULT_OPTIONS,
        );
        const area = mean_mA.reduce((sum, mA, i) => sum + (windows ? mA : i > 0 ? (mA + mean_mA[i - 1]!) / 2 : 0), 0);
        const { total_mAh, going_to_sleep_mAh, asleep_mAh, wakeups_mAh } = f.charge;
        const size = (mean_mA.reduce((sum, mA) => sum + Math.abs(mA), 1) * step_s) / 3600;
        expect(Math.abs(total_mAh - (area * step_s) / 3600)).toBeLessThan(1e-9 * size);
        expect(Math.abs(total_mAh - going_to_sleep_mAh - asleep_mAh - wakeups_mAh)).toBeLessThan(1e-9 * size);
        for (const w of [...f.wakeups, ...f.dips]) {
          expect(w.end_s).toBeGreaterThanOrEqual(w.start_s);
          expect([w.peak_mA, w.mean_mA, w.charge_mAh].every(Number.isFinite)).toBe(true);
        }
        expect(f.steps.every((s, i) => i === 0 || s.t_s >= f.steps[i - 1]!.t_s)).toBe(true);
        expect(f.verdict.sentence).not.toMatch(/NaN|undefined|Infinity/);
      }),
      { numRuns: 300, seed: 20261125 },
    );
  });
});
