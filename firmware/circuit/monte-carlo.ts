// The error budget by Monte Carlo: ten thousand boards, each with its own parts within their tolerances,
// calibrated as BOARD.md says and then read in a night of its own temperature. The method is that of
// JCGM 101:2008 (propagation of distributions): a bound without more is taken as rectangular (6.4.2),
// noise as normal (6.4.7).
import { AT_MA, BOUNDS, NIGHT_K, NOISE_UV, SHUNT_K_PER_W, WINDOW_CONVERSIONS, ZERO_CONVERSIONS } from './errors.ts';
import type { Bounds, Way } from './errors.ts';
import { BOARD_A, FUSES, SHUNT_OHM, VBUS_OHM, VBUS_SERIES_OHM } from './given.ts';
import { table } from './tables.ts';

export const BOARDS = 10_000;
/** Of the tables that are printed; the tests take others too. */
export const SEED = 20_261_130;
/** A lamp of 21 W (BOARD.md, "Calibration"). */
const KNOWN_A = 1.75;

/** A small seeded generator (mulberry32, T. Ettinger, public domain): [0, 1). */
export function seeded(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let z = Math.imul(state ^ (state >>> 15), state | 1);
    z ^= z + Math.imul(z ^ (z >>> 7), z | 61);
    return ((z ^ (z >>> 14)) >>> 0) / 4_294_967_296;
  };
}

/** Box and Muller, 1958. */
const normal = (random: () => number) => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());

/** Says what a board reads of a current, amperes in and out, at the temperature of its night. */
export type Board = (current_A: number) => number;

/**
 * One board with parts within these bounds. With `calibrated` false it is as it comes out of the box: 5 mΩ, no zero.
 * The whole way of a reading, not the sum of the budget's lines: shunt with its own warmth, chip with
 * offset and gain, both drifting; `zero` and `gain` as the firmware works them out.
 */
export function drawBoard(bounds: Bounds, random: () => number, calibrated = true): Board {
  const within = (most: number) => most * (2 * random() - 1);
  const shunt_Ohm = SHUNT_OHM * (1 + within(bounds.shunt_share));
  const shunt_per_K = within(bounds.shunt_per_K);
  const gain = 1 + within(bounds.gain_share);
  const gain_per_K = within(bounds.gain_per_K);
  const offset_V = within(bounds.offset_uV) * 1e-6;
  const offset_V_per_K = within(bounds.offset_uV_per_K) * 1e-6;
  const emf_V = within(bounds.emf_uV) * 1e-6;
  const late_V = (within(bounds.inputs_uV) + within(bounds.step_uV)) * 1e-6;
  const meter = 1 + within(bounds.meter_share);
  const cooler_K = -NIGHT_K * random();
  /** Volts that the chip says, so many kelvin from where it was calibrated. */
  const chip_V = (current_A: number, away_K: number, added_V: number) => {
    const shunt_K = away_K + SHUNT_K_PER_W * current_A ** 2 * SHUNT_OHM;
    const true_V = current_A * shunt_Ohm * (1 + shunt_per_K * shunt_K);
    return (true_V + offset_V + offset_V_per_K * away_K + added_V) * gain * (1 + gain_per_K * away_K);
  };
  const zero_V = calibrated ? chip_V(0, 0, (normal(random) * NOISE_UV * 1e-6) / Math.sqrt(ZERO_CONVERSIONS)) : 0;
  const scale_V_per_A = calibrated ? (chip_V(KNOWN_A, 0, 0) - zero_V) / (KNOWN_A * meter) : SHUNT_OHM;
  return (current_A) => (chip_V(current_A, cooler_K, emf_V + late_V) - zero_V) / scale_V_per_A;
}

/** Errors of `BOARDS` boards at one current, mA, by size, least first. */
export function errorsAt(bounds: Bounds, current_mA: number, seed = SEED, calibrated = true): Float64Array {
  const random = seeded(seed);
  const errors = new Float64Array(BOARDS);
  for (let i = 0; i < BOARDS; i++)
    errors[i] = drawBoard(bounds, random, calibrated)(current_mA / 1000) * 1000 - current_mA;
  return errors;
}

/** The size that so many of the errors do not exceed. */
function sizeOf(errors: Float64Array, share: number): number {
  const sizes = errors.map(Math.abs).sort();
  return sizes[Math.ceil(share * sizes.length) - 1]!;
}

/** What `share` of the boards are within, ± mA. */
export const within_mA = (errors: Float64Array, share = 0.95): number => sizeOf(errors, share);

/**
 * Standard uncertainty at 20 mA by the law of propagation (JCGM 100:2008, 5.1.2): a rectangular bound
 * has a third of its square, and a drift, times a rectangular number of kelvin from none to 20, a ninth.
 */
export function propagated_mA(bounds: Bounds): number {
  const ofVoltage = (microvolt: number) => microvolt / 1000 / SHUNT_OHM;
  const steady = [
    AT_MA * bounds.meter_share,
    ofVoltage(bounds.emf_uV),
    ofVoltage(bounds.inputs_uV),
    ofVoltage(bounds.step_uV),
  ];
  const drifts = [
    ofVoltage(bounds.offset_uV_per_K * NIGHT_K),
    AT_MA * bounds.gain_per_K * NIGHT_K,
    AT_MA * bounds.shunt_per_K * NIGHT_K,
  ];
  const variance = (sizes: number[], part: number) => sizes.reduce((sum, size) => sum + size ** 2 / part, 0);
  const zero_mA = ofVoltage(NOISE_UV / Math.sqrt(ZERO_CONVERSIONS));
  return Math.sqrt(variance(steady, 3) + variance(drifts, 9) + zero_mA ** 2);
}

/** Share of means of so many conversions that lie within ± `limit_mA` of the true one: noise alone, normal. */
export function steadyShare(limit_mA: number, conversions: number, seed = SEED): number {
  const random = seeded(seed);
  const rms_mA = NOISE_UV / 1000 / SHUNT_OHM / Math.sqrt(conversions);
  let inside = 0;
  for (let i = 0; i < BOARDS; i++) if (Math.abs(normal(random)) * rms_mA <= limit_mA) inside++;
  return inside / BOARDS;
}

/** ± mA that 95 of 100 windows are steady to. */
export const windowSteady_mA = (): number => (1.96 * NOISE_UV) / 1000 / SHUNT_OHM / Math.sqrt(WINDOW_CONVERSIONS);

/**
 * ± V between the board's voltage and a meter's at the battery, of 95 of 100 boards at 12.6 V: F1 and F5, R14
 * before 0.8 to 1.2 MΩ, D5 (BAT46: up to 0.8 µA at 10 V), 0.05 % of the chip (memory), 0.5 % of the meter (practice).
 */
export function voltageWithin_V(seed = SEED): number {
  const random = seeded(seed);
  const within = (most: number) => most * (2 * random() - 1);
  const errors = new Float64Array(BOARDS);
  for (let i = 0; i < BOARDS; i++) {
    const fuses_Ohm = FUSES['0.5']!.cold_Ohm + FUSES['1']!.cold_Ohm;
    const share = VBUS_SERIES_OHM / (VBUS_SERIES_OHM + VBUS_OHM * (1 + within(0.2)));
    const leaks_V = 0.8e-6 * random() * VBUS_SERIES_OHM;
    errors[i] = 12.6 * (within(0.0005) + within(0.005) - share) - BOARD_A * fuses_Ohm - leaks_V;
  }
  return sizeOf(errors, 0.95);
}

const WAYS: readonly { way: Way; most_mA: number }[] = [
  { way: 'board_mA', most_mA: 30_000 },
  { way: 'modules_mA', most_mA: 30_000 },
  // ±81.92 mV over 5 mΩ.
  { way: 'ina226_mA', most_mA: 16_000 },
];
export const CURRENTS_MA = [20, 100, 1000, 10_000, 30_000] as const;

const two = (value: number) => String(Number(value.toPrecision(2)));

/** For BOARD.md: what 95 of 100 boards are within. */
export function boardsTable(): string {
  const rows = CURRENTS_MA.map((current_mA) => [
    current_mA < 1000 ? `${current_mA} mA` : `${current_mA / 1000} A`,
    ...WAYS.map(({ way, most_mA }) => {
      if (current_mA > most_mA) return 'beyond its range';
      const within = within_mA(errorsAt(BOUNDS[way], current_mA));
      const share = `${two((within / current_mA) * 100)} %`;
      return current_mA <= 100 ? `±${two(within)} mA, ${share}` : `±${share}`;
    }),
  ]);
  return table(['at', 'board', 'modules', 'board with INA226'], rows);
}
