// Nights of another generator, with blinks, polling, drift, gaps, coarse codes and noise
// of several sorts, scored against the written definitions. `npm test` runs some tens of
// nights, `npm run soak` hundreds. Generator: outsider.ts; what is asked: outsider-score.ts.

import { expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/analysis/findings.ts';
import { chance } from './outsider-chance.ts';
import { draw, LOADS, NIGHT_KINDS, SAMPLINGS } from './outsider.ts';
import type { Plan } from './outsider.ts';
import { f1, judge, newScore } from './outsider-score.ts';

function planOf(seed: number): Plan {
  const random = chance(seed * 31);
  const pick = <T>(from: readonly T[]) => from[Math.floor(random() * from.length)]!;
  const kind = pick(NIGHT_KINDS);
  const sampling = pick(SAMPLINGS);
  // 0.05 to 3 mA; a step of 5 mA cannot be timed in more than 1.
  const noise_mA = Math.min(0.05 * 60 ** random(), kind === 'small' ? 1 : 3);
  return {
    seed,
    kind,
    sampling,
    load: pick(LOADS),
    noise_mA,
    memory: random() < 0.25 ? 0.5 : 0,
    perLoad: random() < 0.25 ? 0.002 : 0,
    code_mA: random() < 0.25 ? 1 : 0,
    drift_mA: random() < 0.3 ? 3 * random() : 0,
    gaps: random() < 0.3,
  };
}

const seeds = process.env['NIGHTDRAW_SOAK'] === '1' ? 400 : 40;

test(`${seeds} nights of an outsider`, () => {
  const score = newScore();
  for (let seed = 1; seed <= seeds; seed++) {
    const night = draw(planOf(seed));
    judge(night, analyse(night.trace, DEFAULT_OPTIONS), score);
  }
  const said = `seeds 1 to ${seeds}:\n${score.complaints.join('\n')}`;
  expect(f1(score.steps), `steps, ${said}`).toBeGreaterThanOrEqual(0.99);
  expect(f1(score.wakes), `wake-ups, ${said}`).toBeGreaterThanOrEqual(0.99);
  expect(f1(score.inner), `steps inside wake-ups, ${said}`).toBeGreaterThanOrEqual(0.99);
  expect(score.dips.hit, `dips, ${said}`).toBeGreaterThan(0);
  expect(score.dips.missed + score.dips.extra, `dips, ${said}`).toBeLessThanOrEqual(0.02 * seeds);
  // Of the figures checked: sleep, level, verdict, period, charges, gaps.
  expect(score.wrong / score.checked, `figures, ${said}`).toBeLessThanOrEqual(0.003);
}, 3_600_000);
