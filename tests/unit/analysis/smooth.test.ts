// The morphological opening that tells a train's pulses, against its definition.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { opened } from '../../../host/analysis/levels/train-smoothing.ts';

/** Highest of the lowest values over all stretches of `reach` samples that hold sample i; ends cut stretches short. */
function byDefinition(x: number[], reach: number): number[] {
  const least = x.map((_, i) => Math.min(...x.slice(i, i + reach)));
  return x.map((_, i) => Math.max(...least.slice(Math.max(0, i - reach + 1), i + 1)));
}

test('opening: the highest floor of the stretches that hold a sample', () => {
  fc.assert(
    fc.property(
      fc.array(fc.integer({ min: -50, max: 50 }), { minLength: 1, maxLength: 60 }),
      fc.integer({ min: 1, max: 12 }),
      (x, reach) => {
        expect([...opened(Float64Array.from(x), reach)]).toEqual(byDefinition(x, reach));
      },
    ),
    { numRuns: 1000, seed: 1982 },
  );
});

test('a pulse shorter than the reach goes, one as long stays with its edges', () => {
  const x = Float64Array.from([0, 0, 0, 9, 9, 0, 0, 0, 5, 5, 5, 0, 0, 0]);
  expect([...opened(x, 3)]).toEqual([0, 0, 0, 0, 0, 0, 0, 0, 5, 5, 5, 0, 0, 0]);
});
