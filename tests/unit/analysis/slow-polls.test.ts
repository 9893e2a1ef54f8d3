// A poll every 5 to 10 s all night: steps and wake-ups beside it. Generator and scorer: slow-polls.ts.

import { expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import { pollingFaults, scoreOf, slowlyPolled } from './slow-polls.ts';

const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
const SEEDS = Array.from({ length: SOAK ? 200 : 20 }, (_, i) => 1 + i);
/** Nights whose polls are counted more than 3 % short today: 1970 for 2031. */
const AMISS = SOAK ? 1 : 0;

test('steps under polls and wake-ups among them are found, polls are not told as wake-ups', () => {
  const sum = { hit: 0, missed: 0, extra: 0 };
  let told = 0;
  const said: string[] = [];
  for (const seed of SEEDS) {
    const night = slowlyPolled(seed);
    const found = analyse(night.trace, DEFAULT_OPTIONS);
    const score = scoreOf(night, found);
    const faults = pollingFaults(night, found);
    for (const key of ['hit', 'missed', 'extra'] as const) sum[key] += score[key];
    told += faults.length === 0 ? 1 : 0;
    if (score.missed + score.extra + faults.length > 0)
      said.push(`${night.said}: ${JSON.stringify(score)}; polling: ${faults.join(', ')}`);
  }
  expect({ ...sum, told }, said.join('\n')).toEqual({ hit: sum.hit, missed: 0, extra: 0, told: SEEDS.length - AMISS });
});
