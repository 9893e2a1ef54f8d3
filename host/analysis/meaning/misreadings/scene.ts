// What every look for a misreading is given: the findings, the night in coarse bins, the
// voltage beside it, and what the technician told. And how a warning is made.

import type { VoltageTrace } from '../../../contract/capture.ts';
import type { Findings } from '../../../contract/findings.ts';
import type { Coarse } from '../coarse.ts';
import type { AllowanceTold, BatteryFindings, Warning, WarningCode } from '../../../contract/meaning.ts';
import type { Volts } from '../volts.ts';

/** A known load, switched on for some seconds after clamping on, to prove that the current goes through the board. */
export interface Proof {
  load_mA: number;
  /** When, from the first sample; null: within the first quarter of an hour. */
  at_s: number | null;
}

export interface Scene {
  findings: Findings;
  allowance: AllowanceTold;
  coarse: Coarse;
  voltage: VoltageTrace | null;
  volts: Volts | null;
  battery: BatteryFindings;
  proof: Proof | null;
  /** Where the board's own range ends; null where nobody knows. */
  fullScale_mA: number | null;
  statuses: readonly { t_s: number; code: string }[];
  start_ms: number | null;
  /** Charge of the gaps is not known for so many seconds. */
  unknown_s: number;
  /** A time on the trace's axis in words. */
  clock: (t_s: number) => string;
}

export type WarningRule = (scene: Scene) => Warning | null;

/** These make the verdict worth nothing until they are put right. */
const GRAVE: ReadonlySet<WarningCode> = new Set([
  'too-low',
  'bridge-on',
  'fell-low',
  'ground-loop',
  'clamps-swapped',
  'charger',
  'solar',
  'negative',
  'voltage-odd',
]);

export function warning(code: WarningCode, sentence: string, next: string, facts: Record<string, number>): Warning {
  return { code, grave: GRAVE.has(code), sentence, next, facts };
}
