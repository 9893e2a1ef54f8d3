// How numbers are written: with units, one precision for each quantity, a true minus sign.
import { describe, expect, test } from 'vitest';
import { BILL_HEAD, billRows } from '../../../host/say/bill.ts';
import {
  against,
  axisCurrent,
  change,
  charge,
  counted,
  current,
  every,
  reading,
  roughly,
  time,
  times,
  unbroken,
} from '../../../host/say/quantities.ts';
import { pollingWords } from '../../../host/say/polling.ts';
import { timeWords } from '../../../host/say/times.ts';

const MINUS = '\u2212';
const NBSP = '\u00a0';

describe('numbers', () => {
  test.each([
    [0, '0 mA'],
    [0.0004, '0.00 mA'],
    [-0.0001, '0.00 mA'],
    [0.354, '0.35 mA'],
    [0.996, '1.0 mA'],
    [6.42, '6.4 mA'],
    [9.96, '10 mA'],
    [19.24, '19 mA'],
    [462.8, '463 mA'],
    [999.4, '999 mA'],
    [999.6, '1.0 A'],
    [1939, '1.9 A'],
    [12_345, '12.3 A'],
    [120_400, '120 A'],
    [-180.2, `${MINUS}180 mA`],
  ])('%f mA is %s', (value, text) => expect(current(value)).toBe(text));

  test('a period says so where chance may have given it', () => {
    expect([null, 1e-9, 0.001, 0.004].map((chance) => every(2040, chance))).toEqual([
      'every 34 min',
      'every 34 min',
      'every 34 min',
      'every 34 min (chance gives such a period once in 250)',
    ]);
  });

  test('what is read off has three digits', () =>
    expect([0, 0.35, 4.254, 9.996, 19.24, 320.4, 999.6, 12_345, -180.2].map(reading)).toEqual([
      '0 mA',
      '0.350 mA',
      '4.25 mA',
      '10.0 mA',
      '19.2 mA',
      '320 mA',
      '1.00 A',
      '12.3 A',
      `${MINUS}180 mA`,
    ]));

  test('a change always has its sign', () =>
    expect([change(-180), change(45), change(-1900)]).toEqual([`${MINUS}180 mA`, '+45 mA', `${MINUS}1.9 A`]));

  test('axis numbers carry no digits that say nothing', () =>
    expect([0, 50, 0.5, 1000, 2500, -20].map(axisCurrent)).toEqual([
      '0',
      '50 mA',
      '0.5 mA',
      '1 A',
      '2.5 A',
      `${MINUS}20 mA`,
    ]));

  test('what is over a limit never reads like the limit', () =>
    expect([against(64.7, 50), against(50.3, 50), against(50.004, 50), against(50, 50)]).toEqual([
      '65 mA',
      '50.3 mA',
      '50.004 mA',
      '50 mA',
    ]));

  test.each([
    [0, '0 s'],
    [0.00123, '1.2 ms'],
    [0.0123, '12 ms'],
    [0.9996, '1 s'],
    [4.25, '4.3 s'],
    [48, '48 s'],
    [95.2, '95 s'],
    [119.6, '2 min'],
    [150, '2 min 30 s'],
    [426, '7 min 10 s'],
    [594, '9 min 50 s'],
    [596, '10 min'],
    [2040, '34 min'],
    [7140, '119 min'],
    [7199, '2 h'],
    [32_520, '9 h 2 min'],
    [34_200, '9 h 30 min'],
    [-90, `${MINUS}90 s`],
  ])('%f s is %s', (value, text) => expect(time(value)).toBe(text));

  test.each([
    [0, '0 mAh'],
    [1e-8, '0 mAh'],
    [0.00669, '6.7 µAh'],
    [-0.0003, `${MINUS}0.3 µAh`],
    [0.1, '0.10 mAh'],
    [0.354, '0.35 mAh'],
    [25.44, '25.4 mAh'],
    [850.2, '850 mAh'],
    [1530, '1.5 Ah'],
    [12_340, '12 Ah'],
  ])('%f mAh is %s', (value, text) => expect(charge(value)).toBe(text));

  test('what is only roughly known is told in tens of seconds or in minutes', () =>
    expect([3, 44, 89, 90, 600].map(roughly)).toEqual(['10 s', '40 s', '90 s', '2 min', '10 min']));

  test('counts', () => {
    const steps = [1, 9999, 10_000].map((n) => counted(n, 'step'));
    expect(steps).toEqual(['1 step', '9999 steps', `10${NBSP}000 steps`]);
    expect([1, 2, 3].map(times)).toEqual(['once', 'twice', '3 times']);
  });

  test('a number stays on the line of its unit', () =>
    expect(unbroken('19 mA for 9 h 30 min, 12.6 V at 20 °C, 3 min ago, 5 apples')).toBe(
      '19_mA for 9_h 30_min, 12.6_V at 20_°C, 3_min ago, 5 apples'.replaceAll('_', NBSP),
    ));
});

describe('instants', () => {
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

  test('by the clock of this computer', () => {
    const words = timeWords(new Date(2026, 10, 25, 2, 40, 5).getTime());
    expect([words.minutes(0), words.seconds(60), words.date(0)]).toEqual(['02:40', '02:41:05', 'Wed 25 Nov']);
  });
});

test('the rows of a bill: estimates, what nobody knows, and the total', () => {
  const line = {
    label: 'a',
    family: null,
    count: 0,
    charge_mAh: 1,
    share_pct: 40,
    per_day_mAh: 8.24,
    estimate_mAh: null,
  };
  const { rows, total } = billRows({
    total_mAh: 2.5,
    shown_mAh: 2.5,
    decimals: 1,
    per_day_mAh: 1200.4,
    lines: [
      { ...line, what: 'going-to-sleep', shown_mAh: 2.5 },
      { ...line, what: 'gaps', shown_mAh: null, share_pct: null, per_day_mAh: null },
      { ...line, what: 'gaps-unknown', shown_mAh: null, share_pct: null, estimate_mAh: { low: 1, high: 2 } },
    ],
  });
  expect(rows.map(([, ...figures]) => figures)).toEqual([
    ['2.5', '40 %', '8.2'],
    ['not known', '', ''],
    ['1.0 to 2.0?', '', '8.2'],
  ]);
  expect(total).toEqual(['total', '2.5', '100 %', '1200']);
  expect(new Set([...rows, total].map((row) => row.length))).toEqual(new Set([BILL_HEAD.length]));
});

test('polling is told once, the costliest first, three kinds at most', () => {
  const family = (id: number, count: number, polling = true) => ({
    id,
    count,
    period_s: 2.1,
    period_chance: null,
    period_95_s: null,
    duration_s: 0.1,
    charge_mAh: 0.0006,
    polling,
  });
  expect(pollingWords([family(1, 16, false), family(2, 20), family(3, 13_700), family(4, 30), family(5, 40)])).toEqual([
    {
      title: `Polling: 13${NBSP}700 pulses every 2.1 s`,
      more: '100 ms and 0.6 µAh each, 8.2 mAh in all, part of the level',
    },
    { title: 'Polling: 40 pulses every 2.1 s', more: '100 ms and 0.6 µAh each, 24 µAh in all, part of the level' },
    { title: 'Polling: 30 pulses every 2.1 s', more: '100 ms and 0.6 µAh each, 18 µAh in all, part of the level' },
  ]);
});
