// All rules for warnings, in the order in which a technician should read them: first what makes the
// night worthless, then what explains it.

import type { Warning } from '../../../contract/meaning.ts';
import { brownoutWarning, clippingWarning, driftWarning, faultWarning, gapsWarning, hangWarning } from './board.ts';
import { lengthWarning } from './length.ts';
import { bridgeWarning, fallWarning } from './low.ts';
import type { WarningRule, Scene } from './scene.ts';
import { signWarning } from './sign.ts';
import { voltageWarning, lowBatteryWarning, saggingWarning } from './supply.ts';
import { unrestWarning } from './unrest.ts';

const RULES: readonly WarningRule[] = [
  voltageWarning,
  signWarning,
  bridgeWarning,
  fallWarning,
  clippingWarning,
  gapsWarning,
  faultWarning,
  brownoutWarning,
  hangWarning,
  lengthWarning,
  unrestWarning,
  driftWarning,
  saggingWarning,
  lowBatteryWarning,
];

/** Warnings that would only repeat, in other words, that the current is wrong. */
const RESTS_ON_CURRENT: ReadonlySet<Warning['code']> = new Set([
  'slow-to-sleep',
  'brief',
  'stays-awake',
  'disturbed',
  'switch-suspect',
  'battery-sagging',
  'offset-drift',
]);

/**
 * The warnings of a night, the grave ones first. Where the current itself is wrong, those that rest on it
 * are left out. O(bins + voltage samples), and wake-ups² for
 * each large fall of level.
 */
export function misreadingsOf(scene: Scene): Warning[] {
  const found = RULES.flatMap((rule) => rule(scene) ?? []);
  const grave = found.filter((w) => w.grave);
  const isCurrentWrong = grave.some((w) => w.code !== 'voltage-odd');
  return [...grave, ...found.filter((w) => !w.grave && !(isCurrentWrong && RESTS_ON_CURRENT.has(w.code)))];
}
