// Nights of another generator, with blinks, polling, drift, gaps, coarse codes and noise
// of several sorts, scored against the written definitions. `npm test` runs some
// nights, `npm run soak` hundreds. Generator: outsider.ts; what is asked: outsider-score.ts.

import { expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import { draw, NIGHT_KINDS, SAMPLINGS } from './outsider.ts';
import { planOf } from './outsider-plan.ts';
import { f1, judge, newScore } from './outsider-score.ts';

/** Those of `npm test` hold every kind of night, every sampling, and a dip. */
const GATE = [10, ...Array.from({ length: 16 }, (_, i) => 17 + i)];
const SEEDS = process.env['NIGHTDRAW_SOAK'] === '1' ? Array.from({ length: 400 }, (_, i) => 1 + i) : GATE;

test(`${SEEDS.length} nights of an outsider`, () => {
  const score = newScore();
  const kinds = new Set<string>(),
    samplings = new Set<string>();
  for (const seed of SEEDS) {
    const plan = planOf(seed);
    kinds.add(plan.kind);
    samplings.add(plan.sampling);
    const night = draw(plan);
    judge(night, analyse(night.trace, DEFAULT_OPTIONS), score);
  }
  expect([kinds.size, samplings.size]).toEqual([NIGHT_KINDS.length, SAMPLINGS.length]);
  const said = `seeds ${SEEDS.join(', ')}:\n${score.complaints.join('\n')}`;
  expect(f1(score.steps), `steps, ${said}`).toBeGreaterThanOrEqual(0.99);
  expect(f1(score.wakes), `wake-ups, ${said}`).toBeGreaterThanOrEqual(0.99);
  expect(f1(score.inner), `steps inside wake-ups, ${said}`).toBeGreaterThanOrEqual(0.99);
  expect(score.dips.hit, `dips, ${said}`).toBeGreaterThan(0);
  expect(score.dips.missed + score.dips.extra, `dips, ${said}`).toBeLessThanOrEqual(0.02 * SEEDS.length);
  // Of the figures checked: sleep, level, verdict, period, charges, gaps.
  expect(score.wrong / score.checked, `figures, ${said}`).toBeLessThanOrEqual(0.003);
}, 3_600_000);
