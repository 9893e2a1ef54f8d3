// What every rule for a warning is given: the findings, the night in coarse bins, the voltage beside it,
// and what the technician told. And how a warning is made.

import type { VoltageTrace } from '../../../contract/capture.ts';
import type { Findings } from '../../../contract/findings.ts';
import type { Coarse } from '../coarse.ts';
import type { AllowanceTold, BatteryFindings, Warning, WarningCode } from '../../../contract/meaning.ts';
import type { Volts } from '../volts.ts';

/**
 * A known load, switched on for some seconds after the clamps went on, to prove that the current goes
 * through the board.
 */
export interface Proof {
  load_mA: number;
  /** When, in seconds from the first sample; null for within the first quarter of an hour. */
  at_s: number | null;
}

/** What warnings are judged by. Times in seconds from the first sample. */
export interface Scene {
  findings: Findings;
  allowance: AllowanceTold;
  coarse: Coarse;
  voltage: VoltageTrace | null;
  volts: Volts | null;
  battery: BatteryFindings;
  proof: Proof | null;
  /** Upper end of the board's range; null where it is not known. */
  fullScale_mA: number | null;
  /** What the board reported about itself, in order of time. */
  statuses: readonly { t_s: number; code: string }[];
  /** Start by the clock, milliseconds since 1970; null where it is not known. */
  start_ms: number | null;
  /** Seconds of gaps whose charge is not known. */
  unknown_s: number;
  /** Puts a time into words. */
  clock: (t_s: number) => string;
}

/** A rule that gives its warning, or null where there is nothing to warn of. */
export type WarningRule = (scene: Scene) => Warning | null;

/** Codes of warnings that make the verdict worth nothing until they are put right. */
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

/**
 * A warning, grave by its code.
 *
 * @param sentence what is wrong
 * @param next what to do about it
 * @param facts every figure in the sentence, by name
 */
export function warning(code: WarningCode, sentence: string, next: string, facts: Record<string, number>): Warning {
  return { code, grave: GRAVE.has(code), sentence, next, facts };
}
