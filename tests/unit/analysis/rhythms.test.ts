// Families and periods against the truth of nights drawn for it. Generator and scorer: rhythms.ts.

import { expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import { rhythmNight, RHYTHMS, scoreOf } from './rhythms.ts';
import type { Rhythm } from './rhythms.ts';

const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
const SEEDS = Array.from({ length: SOAK ? 200 : 20 }, (_, i) => 1 + i);

/** Nights that are right today, of all seeds: wake-ups found, family told as one and whole, period. */
const RIGHT: Record<Rhythm, [found: number, family: number, period: number]> = SOAK
  ? { brief: [200, 139, 139], hidden: [200, 200, 138], few: [200, 200, 200], scattered: [200, 200, 189] }
  : { brief: [20, 16, 16], hidden: [20, 20, 10], few: [20, 20, 20], scattered: [20, 20, 19] };

test.each(RHYTHMS)('%s', (kind) => {
  const right = { found: 0, family: 0, period: 0 };
  const said: string[] = [];
  for (const seed of SEEDS) {
    const night = rhythmNight(kind, seed);
    const score = scoreOf(night, analyse(night.trace, DEFAULT_OPTIONS));
    for (const key of ['found', 'family', 'period'] as const) right[key] += score[key] ? 1 : 0;
    if (!Object.values(score).every(Boolean)) said.push(`${night.said}: ${JSON.stringify(score)}`);
  }
  expect(Object.values(right), said.join('\n')).toEqual(RIGHT[kind]);
});
