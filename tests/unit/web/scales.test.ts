// Scales: ascending everywhere, defined at and below zero, ticks apart.
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { currentRange, currentScale, currentTicks } from '../../../web/chart/scales.ts';
import type { CurrentScaleKind } from '../../../web/chart/scales.ts';

const kinds: CurrentScaleKind[] = ['log', 'linear'];

describe.each(kinds)('%s scale', (kind) => {
  test('larger currents stand higher, also through zero and below', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -5000, max: 5000, noNaN: true }),
        fc.double({ min: 0.5, max: 60_000, noNaN: true }),
        fc.array(fc.double({ min: 0, max: 1, noNaN: true }), { minLength: 2 }),
        (low, span, shares) => {
          const range = currentRange(kind, low, low + span);
          expect(range.low_mA).toBeLessThanOrEqual(low);
          expect(range.high_mA).toBeGreaterThanOrEqual(low + span);
          const scale = currentScale(kind, range, 400, 10);
          const values = shares.map((share) => low + share * span).sort((a, b) => a - b);
          const heights = values.map(scale);
          heights.forEach((height, i) => {
            expect(height).toBeGreaterThanOrEqual(10 - 1e-6);
            expect(height).toBeLessThanOrEqual(400 + 1e-6);
            if (i > 0) expect(height).toBeLessThanOrEqual(heights[i - 1]! + 1e-9);
          });
        },
      ),
    );
  });

  test('ticks lie within the range and apart from each other', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -3000, max: 300, noNaN: true }),
        fc.double({ min: 1, max: 30_000, noNaN: true }),
        fc.integer({ min: 60, max: 900 }),
        (low, span, height) => {
          const range = currentRange(kind, low, low + span);
          const scale = currentScale(kind, range, height, 0);
          const ticks = currentTicks(kind, range, scale, 24);
          for (let i = 0; i < ticks.length; i++) {
            expect(ticks[i]!).toBeGreaterThanOrEqual(range.low_mA);
            expect(ticks[i]!).toBeLessThanOrEqual(range.high_mA);
            if (i > 0) expect(scale(ticks[i - 1]!) - scale(ticks[i]!)).toBeGreaterThanOrEqual(15);
          }
        },
      ),
    );
  });
});

test('the logarithmic scale gives every tenfold the same height, far from zero', () => {
  const scale = currentScale('log', { low_mA: 10, high_mA: 100_000 }, 400, 0);
  const first = scale(100) - scale(1000);
  // log((1000 + 1) / (100 + 1)) differs from log 10 by 0.4 %: the scale is even below 1 mA.
  expect((scale(1000) - scale(10_000)) / first).toBeCloseTo(1, 1);
  expect(scale(10)).toBe(400);
});

test('it is mirrored below zero', () => {
  const scale = currentScale('log', { low_mA: -1000, high_mA: 1000 }, 400, 0);
  expect(scale(0)).toBeCloseTo(200, 9);
  expect(scale(-50) - 200).toBeCloseTo(200 - scale(50), 9);
});
