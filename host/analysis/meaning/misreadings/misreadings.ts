// All looks for misreadings, in the order in which a technician should read them: first
// what makes the night worthless, then what explains it.

import type { Warning } from '../../../contract/meaning.ts';
import { lookForBrownouts, lookForClipping, lookForDrift, lookForFaults, lookForGaps, lookForHangs } from './board.ts';
import { lookForLength } from './length.ts';
import { lookForBridge, lookForFall } from './low.ts';
import type { Look, Scene } from './scene.ts';
import { lookForSign } from './sign.ts';
import { lookAtVoltage, lookForLowBattery, lookForSagging } from './supply.ts';
import { lookForUnrest } from './unrest.ts';

const LOOKS: readonly Look[] = [
  lookAtVoltage,
  lookForSign,
  lookForBridge,
  lookForFall,
  lookForClipping,
  lookForGaps,
  lookForFaults,
  lookForBrownouts,
  lookForHangs,
  lookForLength,
  lookForUnrest,
  lookForDrift,
  lookForSagging,
  lookForLowBattery,
];

/** These would only repeat a current that is wrong in other words. */
const RESTS_ON_CURRENT: ReadonlySet<Warning['code']> = new Set([
  'slow-to-sleep',
  'brief',
  'stays-awake',
  'disturbed',
  'switch-suspect',
  'battery-sagging',
  'offset-drift',
]);

export function misreadingsOf(scene: Scene): Warning[] {
  const found = LOOKS.flatMap((look) => look(scene) ?? []);
  const grave = found.filter((w) => w.grave);
  const isCurrentWrong = grave.some((w) => w.code !== 'voltage-odd');
  return [...grave, ...found.filter((w) => !w.grave && !(isCurrentWrong && RESTS_ON_CURRENT.has(w.code)))];
}
