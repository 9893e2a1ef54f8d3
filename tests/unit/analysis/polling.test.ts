// Fast polling in means alone: how many polls are told as wake-ups. Generator and scorer: polling.ts.

import { expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import { polledNight, scoreOf } from './polling.ts';

const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
const SEEDS = Array.from({ length: SOAK ? 100 : 20 }, (_, i) => 1 + i);

/** Polls told as wake-ups today, and nights without any. */
const EXTRA = SOAK ? 20 : 2;
const CLEAN = SOAK ? 97 : 19;

test('polls are part of their level, wake-ups are not', () => {
  let [hit, extra, clean, level, polls] = [0, 0, 0, 0, 0];
  const said: string[] = [];
  for (const seed of SEEDS) {
    const night = polledNight(seed);
    const score = scoreOf(night, analyse(night.trace, DEFAULT_OPTIONS));
    hit += score.hit;
    extra += score.extra;
    clean += score.extra === 0 ? 1 : 0;
    level += score.isLevel ? 1 : 0;
    polls += night.polls;
    if (score.extra > 0 || score.hit < night.wakeUps.length || !score.isLevel)
      said.push(`${night.said}: ${JSON.stringify(score)} of ${night.polls} polls`);
  }
  expect({ hit, level, extra, clean }, `${polls} polls\n${said.join('\n')}`).toEqual({
    hit: 5 * SEEDS.length,
    level: SEEDS.length,
    extra: EXTRA,
    clean: CLEAN,
  });
});
