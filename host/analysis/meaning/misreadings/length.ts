// Warnings about nights that are too short to judge, and about cars that fall asleep late or never.

import { current, time } from '../../../say/quantities.ts';
import type { WarningRule } from './scene.ts';
import { warning } from './scene.ts';

/** With less time asleep than this, rare wake-ups are missed; the known tests come 5 h after key-off. */
const BRIEF_S = 7200;

/**
 * `too-short`, `stays-awake`, `slow-to-sleep` or `brief`: the night or the time asleep is not as it
 * should be.
 */
export const lengthWarning: WarningRule = ({ findings, allowance }) => {
  const { verdict, trace, asleep, levels } = findings;
  if (verdict.code === 'short') {
    return warning(
      'too-short',
      `Only ${time(trace.duration_s)} were recorded, and the car was not seen asleep.`,
      'Record an hour at least, better a whole night: some cars take 75 min, and what wakes them may come hours later.',
      { duration_s: trace.duration_s, slowest_min: 75 },
    );
  }
  if (asleep === null) {
    const last_mA = levels.at(-1)?.level_mA ?? trace.mean_mA;
    return warning(
      'stays-awake',
      `The car did not fall asleep in ${time(trace.duration_s)}; at the end it drew ${current(last_mA)}.`,
      'Take every key away, latch doors and bonnet, and see that no tester, charger or update over the air keeps it awake; then record a longer night.',
      { duration_s: trace.duration_s, last_mA },
    );
  }
  const settled_s = asleep.after_s;
  if (settled_s > allowance.settle_min * 60 + 60) {
    return warning(
      'slow-to-sleep',
      `The car took ${time(settled_s)} to fall asleep; ${time(allowance.settle_min * 60)} were expected.`,
      "See the car maker's documents: some take 40, 60 or 75 min, a climate control half awake up to 3 h. If this one should not, follow the last step before it slept.",
      { settled_s, settle_s: allowance.settle_min * 60 },
    );
  }
  const asleep_s = trace.duration_s - settled_s;
  if (verdict.code !== 'within' || asleep_s >= BRIEF_S) return null;
  return warning(
    'brief',
    `Only ${time(asleep_s)} asleep were recorded: what wakes a car once in a night may not have come yet.`,
    'Record a whole night: some tests of the car itself come 5 h after key-off and later.',
    { asleep_s },
  );
};
