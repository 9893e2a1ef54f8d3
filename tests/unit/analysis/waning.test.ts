// Wake-ups whose current falls off slowly: no step is told of the fall, and all that are steps. Generator and
// scorer: waning.ts.

import { expect, test } from 'vitest';
import { tallyOf } from './tally.ts';
import { scoreOf, WANING, waningNight } from './waning.ts';
import type { Waning } from './waning.ts';

const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
const SEEDS = Array.from({ length: SOAK ? 200 : 20 }, (_, i) => 1 + i);

/** Today: wake-ups and steps found and missed, and steps told that are none. */
const TODAY: Record<Waning, [hit: number, missed: number, extra: number]> = SOAK
  ? { fine: [1526, 34, 0], coarse: [1501, 77, 11] }
  : { fine: [165, 1, 0], coarse: [154, 12, 0] };

/** One after the other: hundreds of traces are not kept. */
function* nightsOf(kind: Waning) {
  for (const seed of SEEDS) yield waningNight(kind, seed);
}

test.each(WANING)('%s', (kind) => {
  const { sums, said } = tallyOf(nightsOf(kind), scoreOf);
  expect(sums, said).toEqual(TODAY[kind]);
});
