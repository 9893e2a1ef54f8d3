// Families and periods against the truth of nights drawn for it. Generator and scorer: rhythms.ts.

import { expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import { rhythmNight, RHYTHMS, scoreOf } from './rhythms.ts';

const SEEDS = Array.from({ length: process.env['NIGHTDRAW_SOAK'] === '1' ? 200 : 20 }, (_, i) => 1 + i);

test.each(RHYTHMS)('%s', (kind) => {
  const right = { found: 0, family: 0, period: 0 };
  const said: string[] = [];
  for (const seed of SEEDS) {
    const night = rhythmNight(kind, seed);
    const score = scoreOf(night, analyse(night.trace, DEFAULT_OPTIONS));
    for (const key of ['found', 'family', 'period'] as const) right[key] += score[key] ? 1 : 0;
    if (!Object.values(score).every(Boolean)) said.push(`${night.said}: ${JSON.stringify(score)}`);
  }
  const all = SEEDS.length;
  expect(right, said.join('\n')).toEqual({ found: all, family: all, period: all });
});
