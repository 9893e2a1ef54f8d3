// The next step names when a draw came on that was not there from the first.

import { expect, test } from 'vitest';
import { analyse } from '../../../../host/analysis/night/analyse.ts';
import { nextStepOf } from '../../../../host/analysis/meaning/next-step.ts';
import { DEFAULT_OPTIONS } from '../../../../host/contract/settings.ts';
import { traceOf } from '../night.ts';
import type { Landing } from '../night.ts';

const HOUR_S = 3600;

/** Falls asleep after 20 min; 8 h from 22:00 by the computer's clock. */
function nextOf(...landings: Landing[]): string {
  const plan = { duration_s: 8 * HOUR_S, base: [{ t_s: 0, level_mA: 600 }, ...landings], bursts: [] };
  const trace = traceOf(plan, { step_s: 1, windows: false, noise_mA: 0.3 }, 1);
  const start_ms = new Date(2031, 4, 4, 22).getTime();
  return nextStepOf(analyse({ ...trace, start_ms }, DEFAULT_OPTIONS), [], [], null);
}

test('a draw over the allowance from the first on, and one that came on at night', () => {
  const asleep = (level_mA: number) => ({ t_s: 1200, level_mA });
  expect(nextOf(asleep(140))).toMatch(/^Something draws all the time: look for the circuit\. Read voltages/);
  expect(nextOf(asleep(18), { t_s: 4.5 * HOUR_S, level_mA: 260 })).toMatch(
    /^Something came on at 02:30: look for the circuit while it is on\. Read voltages/,
  );
  expect(nextOf(asleep(140), { t_s: 4 * HOUR_S, level_mA: 260 })).toMatch(/^Something draws all the time/);
  expect(nextOf(asleep(18))).toMatch(/^The draw is in order/);
});
