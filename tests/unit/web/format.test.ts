// How numbers are written: with units, three digits, a true minus sign.
import { describe, expect, test } from 'vitest';
import {
  axisCurrent,
  change,
  charge,
  counted,
  current,
  duration,
  roughDuration,
  timeWords,
} from '../../../web/chart/format.ts';

describe('numbers', () => {
  test.each([
    [0, '0 mA'],
    [0.0004, '0.000 mA'],
    [0.35, '0.350 mA'],
    [4.254, '4.25 mA'],
    [9.996, '10.0 mA'],
    [19.24, '19.2 mA'],
    [99.96, '100 mA'],
    [320.4, '320 mA'],
    [999.4, '999 mA'],
    [999.6, '1.00 A'],
    [2800, '2.80 A'],
    [12_345, '12.3 A'],
    [-180.2, '\u2212180 mA'],
    [-0.0001, '0.000 mA'],
  ])('%f mA is %s', (value, text) => expect(current(value)).toBe(text));

  test('a change always has its sign', () => {
    expect([change(-180), change(45), change(-1900)]).toEqual(['\u2212180 mA', '+45.0 mA', '\u22121.90 A']);
  });

  test('axis numbers carry no digits that say nothing', () => {
    expect([0, 50, 0.5, 1000, 2500, -20].map(axisCurrent)).toEqual([
      '0',
      '50 mA',
      '0.5 mA',
      '1 A',
      '2.5 A',
      '\u221220 mA',
    ]);
  });

  test.each([
    [0, '0 s'],
    [0.0123, '12.3 ms'],
    [0.9996, '1 s'],
    [4.25, '4.3 s'],
    [48, '48 s'],
    [59.6, '1 min'],
    [90, '1 min 30 s'],
    [2040, '34 min'],
    [3599.7, '1 h 00 min'],
    [32_520, '9 h 02 min'],
    [-90, '\u22121 min 30 s'],
  ])('%f s is %s', (value, text) => expect(duration(value)).toBe(text));

  test('what is long is told without seconds', () =>
    expect([roughDuration(2041), roughDuration(599)]).toEqual(['34 min', '9 min 59 s']));
  test('charge', () => expect([charge(1.254), charge(2880), charge(0)]).toEqual(['1.25 mAh', '2.88 Ah', '0 mAh']));
  test('a small charge is never written as zeros', () =>
    expect([charge(0.1), charge(0.00669), charge(-0.0003), charge(1e-8)]).toEqual([
      '0.100 mAh',
      '6.69 µAh',
      '\u22120.300 µAh',
      '0 mAh',
    ]));
  test.each([
    [0, '+0 s'],
    [45.5, '+46 s'],
    [59.6, '+1 min'],
    [913, '+15 min'],
    [1500, '+25 min'],
    [3599, '+1:00 h'],
    [9000, '+2:30 h'],
    [38_100, '+10:35 h'],
  ])('without a clock %f s from the start is %s', (t_s, text) => expect(timeWords(null).minutes(t_s)).toBe(text));
  test('counts', () =>
    expect([counted(1, 'step'), counted(9999, 'step'), counted(10_000, 'step')]).toEqual([
      '1 step',
      '9999 steps',
      '10\u00a0000 steps',
    ]));
});
