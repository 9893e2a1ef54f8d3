// What a sound board may read: from the error budget of the circuit (firmware/circuit/errors.ts), added up
// in the worst case, and what a meter adds. Each limit has its arithmetic beside it.
import type { Hello } from '../contract/capture.ts';
import { AT_MA, ERRORS } from '../../firmware/circuit/errors.ts';
import type { ErrorTerm } from '../../firmware/circuit/errors.ts';
import { INPUT_OHM, PIN_OHM, SHUNT_OHM } from '../../firmware/circuit/given.ts';

/** Either way of building; the larger one, since a board does not tell which it is. */
const size_mA = (term: ErrorTerm, sensor: string) =>
  sensor === 'ina226' ? term.ina226_mA : Math.max(term.board_mA, term.modules_mA);

const isCalibrated = ({ cal }: Hello) => cal === 'stored' || cal === 'changed';

function sum_mA(hello: Hello, grows: boolean): number {
  return ERRORS.filter((term) => (term.grows === true) === grows && (term.stays || !isCalibrated(hello))).reduce(
    (sum, term) => sum + size_mA(term, hello.sensor),
    0,
  );
}

/** Volts over the shunt are what errs; a smaller shunt makes more current of them. */
const shuntTimes = ({ shunt_nOhm }: Hello) => SHUNT_OHM / (shunt_nOhm / 1e9);

/** ± mA that may be read while nothing flows. */
export const zeroLimit_mA = (hello: Hello): number => sum_mA(hello, false) * shuntTimes(hello);

/** The last digit of a meter on its 10 A range, half of it each way (practice). */
const METER_STEP_A = 0.01;
/** "gain: the multimeter's" of the budget, once more where it has calibrated the board: now it is read again. */
const METER_SHARE =
  ERRORS.filter(({ cause }) => cause.startsWith("gain: the multimeter's")).reduce(
    (sum, term) => sum + term.board_mA,
    0,
  ) / AT_MA;

/** R5, R6, R15 and R16 before the 92 kΩ between the inputs (SLYS021A): calibrating takes it off. */
const INPUT_SHARE = (2 * (INPUT_OHM + PIN_OHM)) / 92_000;

/** ± share by which the board may differ from the meter at that current. */
export const gainLimit = (hello: Hello, meter_A: number): number =>
  sum_mA(hello, true) / AT_MA + (isCalibrated(hello) ? METER_SHARE : INPUT_SHARE) + METER_STEP_A / 2 / meter_A;

/**
 * Two currents of one board differ by what a meter's two readings may: it has the same gain on one range, so
 * its digits, and a quarter of a per cent of drift while resistors get warm (ours).
 */
export const bendLimit = (a_A: number, b_A: number): number => METER_STEP_A / 2 / a_A + METER_STEP_A / 2 / b_A + 0.0025;

/** ± share of the shunt's own resistance by two meters: its 1 %, amperes 1 %, millivolts 0.5 % and half of 0.1 mV. */
export const shuntLimit = (meter_mV: number): number => 0.01 + METER_SHARE + 0.005 + 0.05 / Math.max(meter_mV, 0.1);

/** Twice what BOARD.md says of one conversion: INA228 2 µV, INA226 about a step of 2.5 µV. */
export const noiseLimit_mA = (hello: Hello): number =>
  (2 * (hello.sensor === 'ina226' ? 2.5 : 2)) / 1000 / (hello.shunt_nOhm / 1e9);

/**
 * ± volts by which board and meter may differ at the clamps: F1 0.02 V and R14 0.22 % (BOARD.md, "Parts"); a meter
 * 0.5 % and a digit of 0.01 V (practice); VBUS 0.1 % and 2.5 mV (SLYS021A; INA226: 0.1 % and 7.5 mV).
 */
export const voltageLimit_V = (meter_V: number): number => 0.02 + (0.0022 + 0.005 + 0.001) * meter_V + 0.01 + 0.0075;
/** From here on the lead is measured: F1 takes 0.02 V (BOARD.md, "Parts"), a meter errs by 0.5 % the other way. */
export const VOLTAGE_ASKED_V = 0.03;
/**
 * F1's 18 mV and R14's 28 mV (2.2 kΩ before 1 MΩ, 12.8 V), half as much again. R7 in the way takes 130 mV at the
 * least: 20 mA x 6.8 Ω less 5 %.
 */
export const VOLTAGE_LEAD_LIMIT_MV = 70;

/** Above the room: what the chip makes itself, and the regulator beside it (ours; 5 K and twice as much again). */
export const WARM_LIMIT_K = 15;
/** Below this nobody is asked how warm the room is. */
export const WARM_ASKED_C = 38;

/** Crystal 50 ppm (parts list), a computer's clock 100 ppm (practice). */
export const CLOCK_LIMIT = 150e-6;

/** A joint that jumps changes the current by this share or more; a resistor that gets warm by less (ours). */
export const JUMP_SHARE = 0.02;

/** The range goes up at 35.8 mV over the shunt (BOARD.md, "Limits"), and a tenth more to be sure of it. */
export const wideFrom_mA = ({ shunt_nOhm }: Hello): number => (1.1 * 35.8) / (shunt_nOhm / 1e9);
