// From what the board measured to milliamperes, by its own calibration or by a later
// one. A current is linear in both, so that windows are put right without their
// conversions: I' = scale * I + shift.
//
//   the board:  I = (V - offset) * k,  k = (1 + gain) / shunt
//   later:      I' = (V - offset') * k' = (k' / k) * I + (offset - offset') * k'

import type { Calibration, Hello } from '../../contract/capture.ts';

/** One step of a raw conversion: 78.125 nV (firmware/PROTOCOL.md, line R). */
const STEP_nV = 78.125;

export interface Correction {
  /** What the board's currents are multiplied by. */
  scale: number;
  /** What is then added, microamperes. */
  shift_uA: number;
  /** A raw conversion of `units` is `perUnit_mA * units + atZero_mA`. */
  perUnit_mA: number;
  atZero_mA: number;
}

/** Microamperes per nanovolt: nV / nOhm is A. */
const slope = (shunt_nOhm: number, gain_ppm: number) => ((1 + gain_ppm / 1e6) / shunt_nOhm) * 1e6;

/** @param later null: the board's own calibration as it is */
export function correctionOf(hello: Hello, later: Calibration | null): Correction {
  const offset_nV = later?.offset_nV ?? hello.offset_nV;
  const before = slope(hello.shunt_nOhm, hello.gain_ppm);
  const now = slope(later?.shunt_nOhm ?? hello.shunt_nOhm, later?.gain_ppm ?? hello.gain_ppm);
  return {
    scale: now === before ? 1 : now / before,
    shift_uA: (hello.offset_nV - offset_nV) * now,
    perUnit_mA: (STEP_nV * now) / 1000,
    atZero_mA: (-offset_nV * now) / 1000,
  };
}

/** Readings of no board, or of its own calibration. */
export const AS_IT_WAS: Correction = { scale: 1, shift_uA: 0, perUnit_mA: 0, atZero_mA: 0 };

export const changesNothing = ({ scale, shift_uA }: Correction): boolean => scale === 1 && shift_uA === 0;
