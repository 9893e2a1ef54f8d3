// The error budget of both ways: each term with its source, what is left after calibration added
// up in the worst case (all the same way) and as the root of the sum of squares (independent).
import { INPUT_OHM, PIN_OHM, SHUNT_OHM } from './given.ts';

/** SLYS021A, at most: what an input takes, through R5 and R15, or R6 and R16. */
const INPUT_NA = 2.5;

/** The draw that is judged, and over how many kelvin the night may cool. */
export const AT_MA = 20;
export const NIGHT_K = 20;
const COPPER_ALLOY_UV_PER_K = 3;
/** BOARD.md, "Error budget": noise of one conversion, rms; how many `zero` takes; how many a window has. */
export const NOISE_UV = 2;
export const ZERO_CONVERSIONS = 1000;
export const WINDOW_CONVERSIONS = 47;
/** A bolted shunt in air (no source): only what is above a few amperes feels it. */
export const SHUNT_K_PER_W = 20;

/** What parts are off by at most, ±, either sign. */
export interface Bounds {
  offset_uV: number;
  shunt_share: number;
  gain_share: number;
  meter_share: number;
  emf_uV: number;
  offset_uV_per_K: number;
  gain_per_K: number;
  shunt_per_K: number;
  inputs_uV: number;
  step_uV: number;
}

const BOARD: Bounds = {
  offset_uV: 1,
  shunt_share: 0.01,
  gain_share: 0.0005,
  meter_share: 0.01,
  emf_uV: 0.1 * COPPER_ALLOY_UV_PER_K,
  offset_uV_per_K: 0.01,
  gain_per_K: 20e-6,
  shunt_per_K: 50e-6,
  inputs_uV: (INPUT_NA * 2 * (INPUT_OHM + PIN_OHM)) / 1000,
  step_uV: 0,
};

export type Way = 'board_mA' | 'modules_mA' | 'ina226_mA';

/** Of each way; what is not the chip's is with an INA226 as with the board. */
export const BOUNDS: Readonly<Record<Way, Bounds>> = {
  board_mA: BOARD,
  modules_mA: { ...BOARD, emf_uV: 0.5 * COPPER_ALLOY_UV_PER_K, shunt_per_K: 100e-6 },
  ina226_mA: {
    ...BOARD,
    offset_uV: 10,
    gain_share: 0.001,
    offset_uV_per_K: 0.1,
    gain_per_K: 50e-6,
    inputs_uV: 0,
    step_uV: 2.5 / 2,
  },
};

const ofVoltage = (microvolt: number) => microvolt / 1000 / SHUNT_OHM;
const ofShare = (share: number) => AT_MA * share;

/** ± mA at 20 mA, either way. */
const each = (size_mA: (bounds: Bounds) => number): Record<Way, number> => ({
  board_mA: size_mA(BOUNDS.board_mA),
  modules_mA: size_mA(BOUNDS.modules_mA),
  ina226_mA: size_mA(BOUNDS.ina226_mA),
});

export interface ErrorTerm extends Record<Way, number> {
  cause: string;
  /** What the sizes are made of. */
  size: string;
  source: string;
  /** What `zero` and `gain` take off, or what stays. */
  stays: boolean;
  /** Grows with the current; the others are the same at every current. */
  grows?: true;
}

const CHIPS = 'data sheets SLYS021A and SBOS547';

export const ERRORS: readonly ErrorTerm[] = [
  {
    cause: 'offset of the chip',
    size: '±1 µV (INA226 ±10 µV)',
    source: CHIPS,
    stays: false,
    ...each((bounds) => ofVoltage(bounds.offset_uV)),
  },
  {
    cause: "shunt's tolerance",
    size: '1 %',
    source: 'parts list',
    stays: false,
    grows: true,
    ...each((bounds) => ofShare(bounds.shunt_share)),
  },
  {
    cause: 'gain of the chip',
    size: '±0.05 % (INA226 ±0.1 %)',
    source: CHIPS,
    stays: false,
    grows: true,
    ...each((bounds) => ofShare(bounds.gain_share)),
  },
  {
    cause: 'zero: noise of 1000 conversions, rounding to 1 nV',
    size: '2 µV / √1000 = 0.06 µV',
    source: 'noise: SLYS021A, effective bits; rounding: EEPROM below',
    stays: true,
    ...each(() => ofVoltage(NOISE_UV / Math.sqrt(ZERO_CONVERSIONS))),
  },
  {
    cause: "gain: the multimeter's",
    size: '1 % and better, on 1 A or more',
    source: 'practice',
    stays: true,
    grows: true,
    ...each((bounds) => ofShare(bounds.meter_share)),
  },
  {
    cause: 'thermal EMF that comes after zero, copper to resistance alloy',
    size: '0.1 K at 3 µV/K; with modules 0.5 K, since screws and pin headers are further apart',
    source: 'memory; the 0.5 K ours',
    stays: true,
    ...each((bounds) => ofVoltage(bounds.emf_uV)),
  },
  {
    cause: "offset's drift over 20 K",
    size: '10 nV/K (INA226 100 nV/K)',
    source: CHIPS,
    stays: true,
    ...each((bounds) => ofVoltage(bounds.offset_uV_per_K * NIGHT_K)),
  },
  {
    cause: "gain's drift over 20 K",
    size: '20 ppm/K (INA226 50 ppm/K)',
    source: CHIPS,
    stays: true,
    grows: true,
    ...each((bounds) => ofShare(bounds.gain_per_K * NIGHT_K)),
  },
  {
    cause: "shunt's drift over 20 K",
    size: '50 ppm/K; a ready-made shunt 100 ppm/K',
    source: 'parts list; 100 ppm/K memory',
    stays: true,
    grows: true,
    ...each((bounds) => ofShare(bounds.shunt_per_K * NIGHT_K)),
  },
  {
    cause: 'input current through R5, R6, R15 and R16',
    size: '2.5 nA × 114 Ω = 0.29 µV, mostly in zero',
    source:
      'SLYS021A; INA226: 0.1 nA in SBOS547B of 2024, 10 µA in that of 2011, so bridge R5, R6, R15 and R16 there, and D6 and D7 no longer help it',
    stays: true,
    ...each((bounds) => ofVoltage(bounds.inputs_uV)),
  },
  {
    cause: 'quantisation of one conversion, where there is no noise',
    size: '0.078 µV (INA226 2.5 µV), half a step',
    source: CHIPS,
    stays: true,
    ...each((bounds) => ofVoltage(bounds.step_uV)),
  },
];

/** What stays after calibration, ± mA at 20 mA. */
export function remaining(way: Way): { worst_mA: number; likely_mA: number } {
  const sizes = ERRORS.filter((term) => term.stays).map((term) => term[way]);
  return {
    worst_mA: sizes.reduce((all, one) => all + one, 0),
    likely_mA: Math.sqrt(sizes.reduce((all, one) => all + one ** 2, 0)),
  };
}
