// Wake-ups whose current falls off slowly: no step is told of the fall, and all that are steps. Generator and
// scorer: waning.ts.

import { expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import { scoreOf, WANING, waningNight } from './waning.ts';
import type { Waning } from './waning.ts';

const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
const SEEDS = Array.from({ length: SOAK ? 200 : 20 }, (_, i) => 1 + i);

/** Today: wake-ups and steps found and missed, and steps told that are none. */
const TODAY: Record<Waning, [hit: number, missed: number, extra: number]> = SOAK
  ? { fine: [1526, 34, 0], coarse: [1501, 77, 11] }
  : { fine: [165, 1, 0], coarse: [154, 12, 0] };

test.each(WANING)('%s', (kind) => {
  const sum = { hit: 0, missed: 0, extra: 0 };
  const said: string[] = [];
  for (const seed of SEEDS) {
    const night = waningNight(kind, seed);
    const score = scoreOf(night, analyse(night.trace, DEFAULT_OPTIONS));
    for (const key of ['hit', 'missed', 'extra'] as const) sum[key] += score[key];
    if (score.missed + score.extra > 0) said.push(`${night.said}: ${JSON.stringify(score)}`);
  }
  expect(Object.values(sum), said.join('\n')).toEqual(TODAY[kind]);
});
