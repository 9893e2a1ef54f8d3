// The error budget of both ways: each term with its source, what is left after calibration added
// up in the worst case (all the same way) and as the root of the sum of squares (independent).
import { SHUNT_OHM } from './given.ts';

/** The draw that is judged, and over how many kelvin the night may cool. */
const AT_MA = 20;
const NIGHT_K = 20;
const COPPER_ALLOY_UV_PER_K = 3;

const ofVoltage = (microvolt: number) => microvolt / 1000 / SHUNT_OHM;
const ofShare = (share: number) => AT_MA * share;

export interface ErrorTerm {
  cause: string;
  /** What the sizes are made of. */
  size: string;
  source: string;
  /** What `zero` and `gain` take off, or what stays. */
  stays: boolean;
  /** ± mA at 20 mA. */
  board_mA: number;
  modules_mA: number;
  /** Either way with an INA226 in the chip's place; what is not the chip's is as with the board. */
  ina226_mA: number;
}

const CHIPS = 'data sheets SLYS021A and SBOS547';

export const ERRORS: readonly ErrorTerm[] = [
  {
    cause: 'offset of the chip',
    size: '±1 µV (INA226 ±10 µV)',
    source: CHIPS,
    stays: false,
    board_mA: ofVoltage(1),
    modules_mA: ofVoltage(1),
    ina226_mA: ofVoltage(10),
  },
  {
    cause: "shunt's tolerance",
    size: '1 %',
    source: 'parts list',
    stays: false,
    board_mA: ofShare(0.01),
    modules_mA: ofShare(0.01),
    ina226_mA: ofShare(0.01),
  },
  {
    cause: 'gain of the chip',
    size: '±0.05 % (INA226 ±0.1 %)',
    source: CHIPS,
    stays: false,
    board_mA: ofShare(0.0005),
    modules_mA: ofShare(0.0005),
    ina226_mA: ofShare(0.001),
  },
  {
    cause: 'zero: noise of 1000 conversions, rounding to 1 nV',
    size: '2 µV / √1000 = 0.06 µV',
    source: 'noise: SLYS021A, effective bits; rounding: EEPROM below',
    stays: true,
    board_mA: ofVoltage(2 / Math.sqrt(1000)),
    modules_mA: ofVoltage(2 / Math.sqrt(1000)),
    ina226_mA: ofVoltage(2 / Math.sqrt(1000)),
  },
  {
    cause: "gain: the multimeter's",
    size: '1 % and better, on 1 A or more',
    source: 'practice',
    stays: true,
    board_mA: ofShare(0.01),
    modules_mA: ofShare(0.01),
    ina226_mA: ofShare(0.01),
  },
  {
    cause: 'thermal EMF that comes after zero, copper to resistance alloy',
    size: '0.1 K at 3 µV/K; with modules 0.5 K, since screws and pin headers are further apart',
    source: 'memory; the 0.5 K ours',
    stays: true,
    board_mA: ofVoltage(0.1 * COPPER_ALLOY_UV_PER_K),
    modules_mA: ofVoltage(0.5 * COPPER_ALLOY_UV_PER_K),
    ina226_mA: ofVoltage(0.1 * COPPER_ALLOY_UV_PER_K),
  },
  {
    cause: "offset's drift over 20 K",
    size: '10 nV/K (INA226 100 nV/K)',
    source: CHIPS,
    stays: true,
    board_mA: ofVoltage(0.01 * NIGHT_K),
    modules_mA: ofVoltage(0.01 * NIGHT_K),
    ina226_mA: ofVoltage(0.1 * NIGHT_K),
  },
  {
    cause: "gain's drift over 20 K",
    size: '20 ppm/K (INA226 50 ppm/K)',
    source: CHIPS,
    stays: true,
    board_mA: ofShare(20e-6 * NIGHT_K),
    modules_mA: ofShare(20e-6 * NIGHT_K),
    ina226_mA: ofShare(50e-6 * NIGHT_K),
  },
  {
    cause: "shunt's drift over 20 K",
    size: '50 ppm/K; a ready-made shunt 100 ppm/K',
    source: 'parts list; 100 ppm/K memory',
    stays: true,
    board_mA: ofShare(50e-6 * NIGHT_K),
    modules_mA: ofShare(100e-6 * NIGHT_K),
    ina226_mA: ofShare(50e-6 * NIGHT_K),
  },
  {
    cause: 'input current through R5 and R6',
    size: '2.5 nA × 20 Ω = 0.05 µV, mostly in zero',
    source: 'SLYS021A; INA226: 0.1 nA in SBOS547B of 2024, 10 µA in that of 2011, so bridge R5 and R6 there',
    stays: true,
    board_mA: ofVoltage(0.05),
    modules_mA: ofVoltage(0.05),
    ina226_mA: 0,
  },
  {
    cause: 'quantisation of one conversion, where there is no noise',
    size: '0.078 µV (INA226 2.5 µV), half a step',
    source: CHIPS,
    stays: true,
    board_mA: 0,
    modules_mA: 0,
    ina226_mA: ofVoltage(2.5 / 2),
  },
];

export type Way = 'board_mA' | 'modules_mA' | 'ina226_mA';

/** What stays after calibration, ± mA at 20 mA. */
export function remaining(way: Way): { worst_mA: number; likely_mA: number } {
  const sizes = ERRORS.filter((term) => term.stays).map((term) => term[way]);
  return {
    worst_mA: sizes.reduce((all, one) => all + one, 0),
    likely_mA: Math.sqrt(sizes.reduce((all, one) => all + one ** 2, 0)),
  };
}
