// Proof-load check: a known resistor across the battery's posts after the board (on the
// car's side) must raise the reading by V / R. It tells whether the board reads true, is
// bypassed, or is out of calibration.

import { CAUTIONS } from '../../say/cautions.ts';
import type { Level } from '../search/level.ts';

export interface ProofInput {
  /** Levels without and with the resistor. */
  before: Pick<Level, 'mean_mA' | 'sigma_mA'>;
  loaded: Pick<Level, 'mean_mA' | 'sigma_mA'>;
  battery_V: number;
  resistor_Ohm: number;
  /** Of the resistor and its leads, per cent. */
  tolerance_percent: number;
}

export type ProofCode = 'true' | 'bypassed' | 'out of calibration' | 'swapped' | 'not connected' | 'cannot tell';

export interface ProofResult {
  code: ProofCode;
  expected_mA: number;
  sentence: string;
}

/** A laptop's earth or a forgotten bridge takes a good part of the current: less than this share is seen then. */
const BYPASS_SHARE = 0.9;
/**
 * A board reads true within this, beside the resistor's own tolerance: gain of the chip 0.05 % and of a 1 % shunt
 * (BOARD.md).
 */
const GAIN_PERCENT = 1.5;
/** Battery voltage as the board reads it. */
const VOLTAGE_PERCENT = 0.5;
/** Heat that a quarter-watt resistor of a drawer stands is soon passed; say so from here on. */
const WARM_W = 0.25;
/**
 * More burns fingers and insulation before a level is measured: a ceramic resistor of a drawer is made for 5 to 10 W
 * (common practice, no source).
 */
const POWER_W_MAX = 10;
/** Under this the resistor drowns in the car's own flicker of 10 mA. */
const EXPECTED_mA_MIN = 40;

/** @throws RangeError in words where such a resistor cannot be used, or the voltage is none of such a battery */
export function checkResistor(battery_V: number, resistor_Ohm: number): void {
  if (!(resistor_Ohm > 0 && resistor_Ohm <= 10_000))
    throw new RangeError(`a proof load of ${resistor_Ohm} ohm cannot be used; take a resistor of 24 to 240 ohm`);
  if (!(battery_V >= 6 && battery_V <= 16))
    throw new RangeError(`a battery of ${battery_V} V is not a 12 V battery at rest`);
  const power_W = battery_V ** 2 / resistor_Ohm;
  if (power_W > POWER_W_MAX)
    throw new RangeError(
      `a proof load of ${resistor_Ohm} ohm would turn ${power_W.toFixed(0)} W into heat; take one of 24 to 240 ohm`,
    );
}

/** What the resistor did to the reading, and what that says of the board. @throws RangeError as `checkResistor` */
export function checkProof(input: ProofInput): ProofResult {
  const { before, loaded, battery_V, resistor_Ohm, tolerance_percent } = input;
  checkResistor(battery_V, resistor_Ohm);
  const expected_mA = (battery_V / resistor_Ohm) * 1000;
  const seen_mA = loaded.mean_mA - before.mean_mA;
  const noise_mA = 2 * Math.hypot(before.sigma_mA, loaded.sigma_mA) + 2;
  const ratio = seen_mA / expected_mA;
  const allowed = (tolerance_percent + GAIN_PERCENT + VOLTAGE_PERCENT) / 100 + noise_mA / expected_mA;
  const say = (code: ProofCode, text: string): ProofResult => ({
    code,
    expected_mA,
    sentence: `Expected ${expected_mA.toFixed(1)} mA, seen ${seen_mA.toFixed(1)} mA: ${text}`,
  });
  if (expected_mA < EXPECTED_mA_MIN)
    return say(
      'cannot tell',
      `the resistor draws too little beside the car's own flicker; take one of ${Math.floor((battery_V / EXPECTED_mA_MIN) * 1000)} ohm or less.`,
    );
  if (Math.abs(ratio - 1) <= allowed) return say('true', 'the board reads true.');
  if (Math.abs(ratio + 1) <= allowed) return say('swapped', 'the two clamps of the board are swapped.');
  if (Math.abs(seen_mA) <= noise_mA)
    return say(
      'not connected',
      'no change: the resistor has no contact, it sits on the wrong side of the board, or the bridge is on.',
    );
  if (ratio > 0 && ratio < BYPASS_SHARE) {
    return say(
      'bypassed',
      `a part of the current goes past the board. Is the bridge off? Does the computer run on its own battery, nothing else at the battery's negative post?`,
    );
  }
  return say(
    'out of calibration',
    `the board is off by ${((ratio - 1) * 100).toFixed(1)} %, more than the ${(allowed * 100).toFixed(1)} % that resistor and noise allow. Measure the resistor; if it is right, calibrate the board.`,
  );
}

/** Cautions for the hand. */
export function proofCautions(battery_V: number, resistor_Ohm: number): string[] {
  const power_W = battery_V ** 2 / resistor_Ohm;
  return [
    CAUTIONS.proofLoad.text,
    ...(power_W > WARM_W ? [`The resistor turns ${power_W.toFixed(1)} W into heat: use one made for it.`] : []),
  ];
}
