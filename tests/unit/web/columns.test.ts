// Bins narrower than a pixel are put together: nothing that was read may be lost by it.
import { expect, test } from 'vitest';
import { columnsOf } from '../../../web/chart/columns.ts';
import { timeScale } from '../../../web/chart/scales.ts';

const COUNT = 3000;
const value = (i: number) => 20 + ((i * 7919) % 101);
const bins = {
  from_s: 0,
  to_s: COUNT,
  mean_mA: Array.from({ length: COUNT }, (_, i) => (i >= 1500 && i < 1520 ? null : value(i))),
  min_mA: Array.from({ length: COUNT }, (_, i) => (i >= 1500 && i < 1520 ? null : value(i) - 5)),
  max_mA: Array.from({ length: COUNT }, (_, i) => (i >= 1500 && i < 1520 ? null : value(i) + (i === 777 ? 800 : 5))),
};
const y = Object.assign((mA: number) => 1000 - mA, { invert: (px: number) => 1000 - px });
const columns = (from_s: number, to_s: number, width_px: number) =>
  columnsOf({
    bins,
    levels: [],
    view: { from_s, to_s, scale: 'linear', selected: null },
    x: timeScale(from_s, to_s, 0, width_px),
    y,
    bottom_px: 1000,
    top_px: 0,
  });

test("a peak of one bin, every reading's range and a gap outlast being put together", () => {
  const { list, width_px } = columns(0, COUNT, 750);
  expect(width_px).toBe(1);
  expect(list).toHaveLength(750);
  list.forEach((column, c) => {
    const own = [0, 1, 2, 3].map((i) => c * 4 + i).filter((i) => bins.mean_mA[i] !== null);
    if (own.length === 0) return expect(column.mean).toBeNull();
    expect(column.high).toBe(y(Math.max(...own.map((i) => bins.max_mA[i]!))));
    expect(column.low).toBe(y(Math.min(...own.map((i) => bins.min_mA[i]!))));
    expect(column.mean).toBeCloseTo(y(own.reduce((sum, i) => sum + bins.mean_mA[i]!, 0) / own.length), 9);
  });
  expect(list.filter(({ mean }) => mean === null)).toHaveLength(5);
});

test('moving the picture by some bins does not change what a column holds', () => {
  const whole = columns(0, 2000, 500).list;
  const moved = columns(6, 2006, 500).list;
  // Bins 400 to 403 are a column in both.
  const of = (list: typeof whole, x: number) => list.find((column) => Math.abs(column.x - x) < 1e-6);
  expect(of(moved, (402 - 6) / 4)!.high).toBe(of(whole, 402 / 4)!.high);
  expect(of(whole, 402 / 4)!.high).not.toBe(of(whole, 406 / 4)!.high);
});

test('bins wider than a pixel stay as they are', () => {
  const { list, width_px } = columns(0, 100, 800);
  expect(width_px).toBe(8);
  expect(list[3]!.mean).toBe(y(value(3)));
});
