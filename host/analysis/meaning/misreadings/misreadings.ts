// All looks for misreadings, in the order in which a technician should read them: first
// what makes the night worthless, then what explains it.

import type { Warning } from '../meaning.ts';
import { lookForClipping, lookForDrift, lookForGaps } from './board.ts';
import { lookForLength } from './length.ts';
import { lookForBridge, lookForFall } from './low.ts';
import type { Look, Scene } from './scene.ts';
import { lookForSign } from './sign.ts';
import { lookAtVoltage, lookForLowBattery, lookForSagging } from './supply.ts';
import { lookForUnrest } from './unrest.ts';

const LOOKS: readonly Look[] = [
  lookAtVoltage, lookForSign, lookForBridge, lookForFall, lookForClipping, lookForGaps,
  lookForLength, lookForUnrest, lookForDrift, lookForSagging, lookForLowBattery,
];

export function misreadingsOf(scene: Scene): Warning[] {
  const found = LOOKS.flatMap((look) => look(scene) ?? []);
  return [...found.filter((w) => w.grave), ...found.filter((w) => !w.grave)];
}
