// Bins over a trace in memory: means by time, gaps empty, nothing lost at the edges.
import { describe, expect, test } from 'vitest';
import type { Trace } from '../../../host/contract/capture.ts';
import { joinHoles, overviewOf } from '../../../host/night/overview.ts';

const points = (t_s: number[], mean_mA: number[]): Trace => ({
  kind: 'points',
  start_ms: null,
  time: { kind: 'listed', t_s: Float64Array.from(t_s) },
  dur_s: null,
  mean_mA: Float64Array.from(mean_mA),
  min_mA: null,
  max_mA: null,
  gaps: [],
});

describe('bins over a trace', () => {
  test('windows weigh by their time in the bin', () => {
    const trace: Trace = {
      kind: 'windows',
      start_ms: null,
      time: { kind: 'regular', step_s: 2 },
      dur_s: Float64Array.from([2, 2, 2]),
      mean_mA: Float64Array.from([10, 40, 70]),
      min_mA: Float64Array.from([9, 30, 60]),
      max_mA: Float64Array.from([11, 50, 80]),
      gaps: [],
    };
    // [0,3): 2 s at 10 and 1 s at 40; [3,6): 1 s at 40 and 2 s at 70.
    expect(overviewOf(trace)(0, 6, 2)).toEqual({
      from_s: 0,
      to_s: 6,
      mean_mA: [20, 60],
      min_mA: [9, 30],
      max_mA: [50, 80],
    });
  });

  test('bins finer than the samples have their values', () => {
    const overview = overviewOf(points([0, 1, 2, 3], [1, 2, 3, 4]))(0, 3, 12);
    expect(overview.mean_mA).toEqual([1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4]);
  });

  test('the mean of all agrees with the trapezoid rule on irregular points', () => {
    const [t_s, mean_mA] = [
      [0, 1, 4, 5, 9],
      [10, 30, 20, 50, 40],
    ];
    let area = 0;
    for (let i = 1; i < t_s.length; i++) area += ((mean_mA[i]! + mean_mA[i - 1]!) / 2) * (t_s[i]! - t_s[i - 1]!);
    expect(overviewOf(points(t_s, mean_mA))(0, 9, 1).mean_mA[0]).toBeCloseTo(area / 9, 6);
  });

  test('a gap stays empty, but for the half spacing that its edges stand for', () => {
    const t_s = [...Array(20).keys(), ...Array.from({ length: 20 }, (_, i) => 100 + i)];
    const { mean_mA } = overviewOf(
      points(
        t_s,
        t_s.map(() => 5),
      ),
    )(0, 120, 12);
    expect(mean_mA).toEqual([5, 5, null, null, null, null, null, null, null, 5, 5, 5]);
  });

  test('one sample alone, and a stretch without any', () => {
    expect(overviewOf(points([0], [7]))(5, 6, 2).mean_mA).toEqual([null, null]);
  });
});

describe('holes between bins', () => {
  const of = (values: (number | null)[]) => ({
    from_s: 0,
    to_s: values.length,
    mean_mA: [...values],
    min_mA: [...values],
    max_mA: [...values],
  });

  test('short ones are filled, long ones are gaps', () => {
    const filled = joinHoles(of([1, null, null, 4, null, null, null, null, null, null, null, 9, null]), 1, 1);
    expect(filled.mean_mA).toEqual([1, 1, 1, 4, null, null, null, null, null, null, null, 9, null]);
    expect(filled.max_mA).toEqual(filled.mean_mA);
  });
});
