// Steps as they are called out while a board is being recorded.
import { expect, test } from 'vitest';
import { StepWatch } from '../../../host/server/live/step-watch.ts';
import type { LiveStep } from '../../../host/contract/api.ts';

const WINDOW_S = 0.05;

/** @param mean_mA of the n-th window */
function called(count: number, mean_mA: (n: number) => number): LiveStep[] {
  const watch = new StepWatch();
  return Array.from({ length: count }, (_, n) => watch.take((n + 1) * WINDOW_S, WINDOW_S, mean_mA(n))).filter(
    (step) => step !== null,
  );
}

/** Evenly spread over plus and minus so much, the same each time. */
const noise = (n: number, size_mA: number) => size_mA * (2 * ((n * 0.6180339887) % 1) - 1);

test('up and down, each with its time and both levels, under noise', () => {
  const steps = called(600, (n) => (n < 200 || n >= 400 ? 180 : 640) + noise(n, 2));
  expect(steps.map(({ t_s, from_mA, to_mA }) => [t_s, from_mA, to_mA].map(Math.round))).toEqual([
    [10, 180, 640],
    [20, 640, 180],
  ]);
});

test.each([1, 3, 10, 19])(
  'a recording that begins %i windows before a change calls none out for it, and the next one right',
  (early) => {
    const steps = called(400, (n) => (n < early || n >= 200 ? 640 : 180) + noise(n, 0.2));
    expect(steps.map(({ from_mA, to_mA }) => [from_mA, to_mA].map(Math.round))).toEqual([[180, 640]]);
  },
);

test('blinks and short pulses are none', () => {
  expect(called(800, (n) => (n % 40 < 2 ? 32 : 20) + noise(n, 0.2))).toEqual([]);
  expect(called(400, (n) => (n >= 200 && n < 215 ? 900 : 20))).toEqual([]);
});
