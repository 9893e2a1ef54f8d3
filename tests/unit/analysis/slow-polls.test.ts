// A poll every 5 to 10 s all night: steps and wake-ups beside it. Generator and scorer: slow-polls.ts.

import { expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import { scoreOf, slowlyPolled } from './slow-polls.ts';

const SEEDS = Array.from({ length: process.env['NIGHTDRAW_SOAK'] === '1' ? 200 : 20 }, (_, i) => 1 + i);

test('steps under polls and wake-ups among them are found, polls are not told as wake-ups', () => {
  const sum = { hit: 0, missed: 0, extra: 0 };
  const said: string[] = [];
  for (const seed of SEEDS) {
    const night = slowlyPolled(seed);
    const score = scoreOf(night, analyse(night.trace, DEFAULT_OPTIONS));
    for (const key of ['hit', 'missed', 'extra'] as const) sum[key] += score[key];
    if (score.missed + score.extra > 0) said.push(`${night.said}: ${JSON.stringify(score)}`);
  }
  expect({ missed: sum.missed, extra: sum.extra }, `${sum.hit} found\n${said.join('\n')}`).toEqual({
    missed: 0,
    extra: 0,
  });
});
