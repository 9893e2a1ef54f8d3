// Nights in which nothing wakes the car, or one reading does. Generator: calm.ts.

import { expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import { CALM, calmNight } from './calm.ts';

const SEEDS = Array.from({ length: process.env['NIGHTDRAW_SOAK'] === '1' ? 200 : 30 }, (_, i) => 1 + i);

/** Whether each wanted time is found once, and nothing else. */
const same = (found: number[], wanted: number[], within_s: number) =>
  found.length === wanted.length && wanted.every((t_s) => found.some((at_s) => Math.abs(at_s - t_s) <= within_s));

test.each(CALM)('%s', (kind) => {
  const right = { steps: 0, wakeUps: 0, verdict: 0 };
  const said: string[] = [];
  for (const seed of SEEDS) {
    const night = calmNight(kind, seed);
    const found = analyse(night.trace, DEFAULT_OPTIONS);
    const steps = same(
      found.steps.map(({ t_s }) => t_s),
      night.steps_s,
      night.within_s,
    );
    const wakeUps = same(
      found.wakeups.map(({ start_s }) => start_s),
      night.wakeUps_s,
      night.within_s,
    );
    const verdict = night.codes.includes(found.verdict.code);
    right.steps += steps ? 1 : 0;
    right.wakeUps += wakeUps ? 1 : 0;
    right.verdict += verdict ? 1 : 0;
    if (!(steps && wakeUps && verdict))
      said.push(
        `${night.said}: ${JSON.stringify({ steps, wakeUps, verdict })}, found ${found.wakeups.map((w) => `${w.start_s.toFixed(1)} for ${(w.end_s - w.start_s).toFixed(1)} s`).join(', ')}; steps ${found.steps.map((s) => s.t_s.toFixed(0)).join(', ')}; ${found.verdict.code}`,
      );
  }
  const all = SEEDS.length;
  expect(right, said.join('\n')).toEqual({ steps: all, wakeUps: all, verdict: all });
});
