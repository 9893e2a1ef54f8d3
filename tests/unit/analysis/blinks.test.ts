// A load that blinks at the pace of the readings: steps under it and wake-ups among it. Generator and scorer:
// blinks.ts.

import { expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import { blinkNight, BLINKS, scoreOf } from './blinks.ts';
import type { Blink } from './blinks.ts';

const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
const SEEDS = Array.from({ length: SOAK ? 200 : 20 }, (_, i) => 1 + i);

/** Today: steps and wake-ups found and missed, and what was told that is none. */
const TODAY: Record<Blink, [hit: number, missed: number, extra: number]> = SOAK
  ? { 'in step': [3229, 0, 0], straying: [3218, 0, 0], 'at random': [3229, 2, 4] }
  : { 'in step': [325, 0, 0], straying: [306, 0, 0], 'at random': [313, 1, 1] };

test.each(BLINKS)('%s', (kind) => {
  const sum = { hit: 0, missed: 0, extra: 0 };
  const said: string[] = [];
  for (const seed of SEEDS) {
    const night = blinkNight(kind, seed);
    const score = scoreOf(night, analyse(night.trace, DEFAULT_OPTIONS));
    for (const key of ['hit', 'missed', 'extra'] as const) sum[key] += score[key];
    if (score.missed + score.extra > 0) said.push(`${night.said}: ${JSON.stringify(score)}`);
  }
  expect(Object.values(sum), said.join('\n')).toEqual(TODAY[kind]);
});
