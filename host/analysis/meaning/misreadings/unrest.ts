// Warnings about a disturbed night: somebody opened a door or used the key, and the car went to sleep
// once more; or a faulty switch makes the car believe so again and again.

import { current, time, times } from '../../../say/quantities.ts';
import type { WakeUp } from '../../../contract/findings.ts';
import { isGoingToSleepAnew } from '../going-to-sleep-anew.ts';
import type { WarningRule, Scene } from './scene.ts';
import { warning } from './scene.ts';

/** From this many times in a night on, it is hardly somebody passing by. */
const SWITCH_TIMES = 3;
/**
 * What a car that is kept awake draws: 300 mA when disturbed (a carmaker's workshop manual, 2021), 350 to
 * 450 mA for half an hour (a carmaker's bulletin).
 */
const AWAKE_MA = { low: 200, high: 1500 };

/** Wake-ups since the car fell asleep in which it goes to sleep anew. */
function goneToSleepAnew({ findings }: Scene): WakeUp[] {
  const { asleep, wakeups } = findings;
  return asleep === null
    ? []
    : wakeups.filter((w) => w.start_s >= asleep.after_s && isGoingToSleepAnew(w, asleep.level_mA));
}

const LATCH =
  'See in the display whether a door or the bonnet shows open; latch the locks with a screwdriver, hold the bonnet switch closed, and record again.';

/** `disturbed` or `switch-suspect`: the whole car woke and went to sleep again, or was kept awake. */
export const unrestWarning: WarningRule = (scene) => {
  const found = goneToSleepAnew(scene);
  const { findings, clock } = scene;
  const [first] = found;
  if (first === undefined || findings.asleep === null) return heldAwakeWarning(scene);
  const charge_mAh = found.reduce((sum, w) => sum + w.charge_mAh, 0);
  if (found.length >= SWITCH_TIMES) {
    return warning(
      'switch-suspect',
      `The whole car woke ${times(found.length)} and went to sleep again, first at ${clock(first.start_s)}: a door, lock or bonnet switch may do that.`,
      LATCH,
      { count: found.length, first_s: first.start_s },
    );
  }
  const { mean_mA, covered_s } = findings.asleep;
  const without_mA = mean_mA - (charge_mAh * 3600) / covered_s;
  const when = found.map((w) => clock(w.start_s)).join(' and ');
  return warning(
    'disturbed',
    `At ${when} the whole car woke and went to sleep again (${time(first.end_s - first.start_s)}, up to ${current(first.peak_mA)}), as when a door is opened or the key is used; without that the average is ${current(without_mA)}.`,
    'Ask who was at the car; keep keys away and record another night.',
    {
      length_s: first.end_s - first.start_s,
      peak_mA: first.peak_mA,
      without_mA,
      ...Object.fromEntries(found.map((w, i) => [`at${i}_s`, w.start_s])),
    },
  );
};

/** The warning for a car that is never asleep, or asleep at what an awake car draws. */
function heldAwakeWarning({ findings }: Scene): ReturnType<WarningRule> {
  const { asleep, levels, verdict, trace } = findings;
  const level_mA = asleep?.level_mA ?? levels.at(-1)?.level_mA ?? 0;
  if (verdict.code === 'short' || level_mA < AWAKE_MA.low || level_mA > AWAKE_MA.high) return null;
  if (asleep === null && trace.duration_s < 2 * 3600) return null;
  return warning(
    'switch-suspect',
    `The car stays at ${current(level_mA)}, as one that is kept awake does: a door, lock or bonnet switch may take it for open.`,
    LATCH,
    { level_mA },
  );
}
