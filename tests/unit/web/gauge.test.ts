// The bar of the draw against the allowance: as long as the figures say, at any size of them.
import { expect, test } from 'vitest';
import { drawGauge } from '../../../web/chart/gauge.ts';
import type { Draw } from '../../../web/chart/gauge.ts';
import { LIGHT } from '../../../web/chart/palette.ts';

/** What each part spans, in px. */
function spans(draw: Draw): Record<string, [number, number]> {
  const { children } = drawGauge(draw, { width: 240, height: 20, palette: LIGHT });
  return Object.fromEntries(
    children.flatMap((child) => {
      if (typeof child === 'string' || child.attrs['data-part'] === undefined) return [];
      const at = Number(child.attrs['x'] ?? child.attrs['x1']);
      return [[child.attrs['data-part'], [at, at + Number(child.attrs['width'] ?? 0)]]];
    }),
  );
}

test('asleep, on average and the allowance stand to each other as their currents do', () => {
  const { asleep, 'on-average': average, allowance } = spans({ level_mA: 20, mean_mA: 65, allowance_mA: 50 });
  expect(asleep![0]).toBe(0);
  expect(average![0]).toBe(asleep![1]);
  expect(average![1] / asleep![1]).toBeCloseTo(65 / 20, 9);
  expect(allowance![0] / asleep![1]).toBeCloseTo(50 / 20, 9);
  expect(average![1]).toBeLessThanOrEqual(240);
});

test('whatever the figures, nothing leaves the bar, and the allowance is in it', () => {
  for (const draw of [
    { level_mA: null, mean_mA: 4200, allowance_mA: 50 },
    { level_mA: -300, mean_mA: -280, allowance_mA: 50 },
    { level_mA: 0, mean_mA: 0, allowance_mA: 50 },
    { level_mA: 49, mean_mA: 12, allowance_mA: 50 },
    { level_mA: 20, mean_mA: 20, allowance_mA: 0.5 },
  ]) {
    const parts = spans(draw);
    expect(parts['allowance']).toBeDefined();
    for (const [part, [from, to]] of Object.entries(parts)) {
      expect(from, part).toBeGreaterThanOrEqual(0);
      expect(to, part).toBeLessThanOrEqual(240);
      expect(to, part).toBeGreaterThanOrEqual(from);
    }
  }
  expect(spans({ level_mA: null, mean_mA: 80, allowance_mA: 50 })['asleep']).toBeUndefined();
});
