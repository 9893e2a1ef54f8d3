// A load that blinks at the pace of the readings: steps under it and wake-ups among it. Generator and scorer:
// blinks.ts.

import { expect, test } from 'vitest';
import { tallyOf } from './tally.ts';
import { blinkNight, BLINKS, scoreOf } from './blinks.ts';
import type { Blink } from './blinks.ts';

const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
const SEEDS = Array.from({ length: SOAK ? 200 : 20 }, (_, i) => 1 + i);

/** Today: steps and wake-ups found and missed, and what was told that is none. */
const TODAY: Record<Blink, [hit: number, missed: number, extra: number]> = SOAK
  ? { 'in step': [3229, 0, 0], straying: [3218, 0, 0], 'at random': [3229, 2, 4] }
  : { 'in step': [325, 0, 0], straying: [306, 0, 0], 'at random': [313, 1, 1] };

/** One after the other: hundreds of traces are not kept. */
function* nightsOf(kind: Blink) {
  for (const seed of SEEDS) yield blinkNight(kind, seed);
}

test.each(BLINKS)('%s', (kind) => {
  const { sums, said } = tallyOf(nightsOf(kind), scoreOf);
  expect(sums, said).toEqual(TODAY[kind]);
});
