// Ten thousand boards against the budget that was worked out by hand, against closed forms, and against
// every figure that README.md, BOARD.md and the program promise of a reading.
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { AT_MA, BOUNDS, WINDOW_CONVERSIONS, remaining } from '../../../firmware/circuit/errors.ts';
import type { Bounds, Way } from '../../../firmware/circuit/errors.ts';
import {
  BOARDS,
  boardsTable,
  errorsAt,
  propagated_mA,
  steadyShare,
  voltageWithin_V,
  windowSteady_mA,
  within_mA,
} from '../../../firmware/circuit/monte-carlo.ts';
import { seedOf } from '../../seeds.ts';

const file = (name: string) => readFileSync(new URL(`../../../${name}`, import.meta.url), 'utf8');
const WAYS: Way[] = ['board_mA', 'modules_mA', 'ina226_mA'];
const seed = seedOf(7_301_101);

/** No part is off by anything, but for what is given. */
const only = (some: Partial<Bounds>): Bounds => ({
  ...(Object.fromEntries(Object.keys(BOUNDS.board_mA).map((key) => [key, 0])) as unknown as Bounds),
  ...some,
});

const spread_mA = (errors: Float64Array) => {
  const mean = errors.reduce((a, b) => a + b, 0) / errors.length;
  return Math.sqrt(errors.reduce((sum, one) => sum + (one - mean) ** 2, 0) / (errors.length - 1));
};

describe('against closed forms', () => {
  test('a meter alone, off by up to 1 %: 95 of 100 boards within 0.95 % of 20 mA, all within 1 %', () => {
    const errors = errorsAt(only({ meter_share: 0.01 }), AT_MA, seed);
    // Three standard errors of the share of 10 000: 0.65 %, that is 0.0014 mA. zero's noise: 0.013 mA, added.
    expect(Math.abs(within_mA(errors) - 0.19)).toBeLessThan(0.004);
    expect(within_mA(errors, 1)).toBeLessThan(0.2 + 5 * 0.013);
  });

  test('two rectangles of 0.2 and 0.3 mA make a trapezoid: 95 of 100 within 0.5 - √(0.05 · 4 · 0.2 · 0.3) mA', () => {
    const errors = errorsAt(only({ meter_share: 0.01, emf_uV: 1.5 }), AT_MA, seed);
    expect(Math.abs(within_mA(errors) - (0.5 - Math.sqrt(0.05 * 4 * 0.2 * 0.3)))).toBeLessThan(0.008);
  });

  test('what calibration takes off is gone: shunt, gain and offset alone leave the noise of zero', () => {
    const parts = only({ shunt_share: 0.01, gain_share: 0.001, offset_uV: 10 });
    expect(within_mA(errorsAt(parts, AT_MA, seed))).toBeCloseTo((1.96 * 2) / 1000 / 0.005 / Math.sqrt(1000), 2);
    expect(within_mA(errorsAt(parts, AT_MA, seed, false))).toBeGreaterThan(1);
  });
});

describe.each(WAYS)('%s against the budget', (way) => {
  const errors = errorsAt(BOUNDS[way], AT_MA, seed);

  test('the spread is that of the law of propagation (JCGM 100), within 3 %', () => {
    // The spread of 10 000 draws is itself unsure by 0.7 % at most (normal; rectangles less).
    expect(Math.abs(spread_mA(errors) / propagated_mA(BOUNDS[way]) - 1)).toBeLessThan(0.03);
  });

  test('no board is beyond the worst case, and 95 of 100 are well inside', () => {
    const { worst_mA } = remaining(way);
    // zero's noise is no bound: five times its rms in place of once.
    expect(within_mA(errors, 1)).toBeLessThan(worst_mA + 4 * 0.013);
    expect(within_mA(errors)).toBeLessThan(0.8 * worst_mA);
  });

  test('another seed says the same within 5 %', () => {
    const other = within_mA(errorsAt(BOUNDS[way], AT_MA, seed + 1));
    // Each is unsure by 0.6 to 0.8 % (the 95th of 100 of 10 000), their ratio by 1.1 %.
    expect(Math.abs(other / within_mA(errors) - 1)).toBeLessThan(0.05);
  });
});

describe('what is promised holds for 95 of 100 boards, and half of it would not', () => {
  const at = (way: Way, current_mA: number) => within_mA(errorsAt(BOUNDS[way], current_mA, seed));
  const share = (way: Way, current_mA: number) => (at(way, current_mA) / current_mA) * 100;
  const worstShare = (currents_mA: number[]) =>
    Math.max(...currents_mA.flatMap((mA) => [share('board_mA', mA), share('modules_mA', mA)]));

  test.each<[string, string, RegExp, () => number]>([
    ['the board at 20 mA', 'README.md', /95 of 100 boards read right to ([\d.]+) mA/, () => at('board_mA', 20)],
    [
      'modules at 20 mA',
      'README.md',
      /boards read right to [\d.]+ mA \(([\d.]+) mA with ready-made modules\)/,
      () => at('modules_mA', 20),
    ],
    ['a window', 'README.md', /95 of 100 windows of 50 ms are steady to ([\d.]+) mA/, windowSteady_mA],
    ['1 to 10 A', 'README.md', /from 1 to 10 A ([\d.]+) % counts/, () => worstShare([1000, 3000, 10_000])],
    ['the board at 30 A', 'README.md', /at 30 A, the shunt hot, ([\d.]+) %/, () => share('board_mA', 30_000)],
    [
      'modules at 30 A',
      'README.md',
      /the shunt hot, [\d.]+ % \(([\d.]+) % with modules\)/,
      () => share('modules_mA', 30_000),
    ],
    [
      'the check with 560 Ω',
      'firmware/BOARD.md',
      /the board must show that, too, within ([\d.]+) mA/,
      () => at('board_mA', 21.4),
    ],
    [
      'the voltage beside a meter',
      'firmware/BOARD.md',
      /the voltage within ([\d.]+) V of the meter's/,
      () => voltageWithin_V(seed),
    ],
    [
      'a proof load on a board that nobody calibrated',
      'host/bay/work/proof-load.ts',
      /GAIN_PERCENT = ([\d.]+)/,
      () => within_mA(errorsAt(BOUNDS.board_mA, 100, seed, false)),
    ],
  ])('%s (%s)', (_what, name, words, needed) => {
    const promised = Number(words.exec(file(name).replaceAll(/\s+/g, ' '))?.[1]);
    expect(promised).toBeGreaterThanOrEqual(needed());
    expect(promised / 2).toBeLessThan(needed());
  });

  test('nine of ten windows within 0.1 mA, nineteen of twenty seconds within 0.03 mA (BOARD.md)', () => {
    expect(file('firmware/BOARD.md').replaceAll(/\s+/g, ' ')).toContain(
      "a window's mean lies within 0.1 mA of the true one in nine of ten windows, calibration aside, and the mean of a second within 0.03 mA in nineteen of twenty",
    );
    // A share of 10 000 is unsure by 0.3 %.
    expect(steadyShare(0.1, WINDOW_CONVERSIONS, seed)).toBeGreaterThan(0.9);
    expect(steadyShare(0.1, WINDOW_CONVERSIONS, seed)).toBeLessThan(0.95);
    expect(steadyShare(0.03, 20 * WINDOW_CONVERSIONS, seed)).toBeGreaterThan(0.95);
    expect(steadyShare(0.03 / 2, 20 * WINDOW_CONVERSIONS, seed)).toBeLessThan(0.95);
  });
});

test('ten thousand boards, in the table of BOARD.md too', () => {
  expect(BOARDS).toBe(10_000);
  expect(file('firmware/BOARD.md')).toContain(boardsTable());
});
