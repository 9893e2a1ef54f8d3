// Sound boards: each part somewhere within what the parts list and the error budget allow it, evenly
// spread, and a meter and a bench of the same kind. The tolerances are read from the circuit's source.
import { BOARD } from '../../../firmware/circuit/board.ts';
import { AT_MA, ERRORS } from '../../../firmware/circuit/errors.ts';
import { SHUNT_OHM } from '../../../firmware/circuit/given.ts';
import { seededRandom } from '../../../host/emulator/random.ts';

export interface Specimen {
  seed: number;
  /** Of the sense chip. */
  offset_nV: number;
  gain_ppm: number;
  oscillator_ppm: number;
  /** Of VBUS: INA228, ±0.1 % and ±2.5 mV (SLYS021A). */
  bus_ppm: number;
  bus_mV: number;
  bias_nA: [number, number];
  /** Thermal EMF between the sense terminals. */
  emf_nV: number;
  shunt_ppm: number;
  /** Of R5 and R6. */
  filter_ppm: [number, number];
  /** Of R7. */
  surge_ppm: number;
  crystal_ppm: number;
  /** What the board takes from the 12 V: 20 mA to the worst case of given.ts. */
  draw_mA: number;
  chip_K: number;
  bench: {
    battery_V: number;
    room_C: number;
    /** The two resistors, their leads. */
    load_ohm: [number, number];
    lead_ohm: number;
  };
  meter: {
    /** 1 % and better on 1 A or more (error budget), 0.5 % on volts (practice). */
    current_ppm: number;
    voltage_ppm: number;
  };
}

/** The two resistors that BOARD.md asks for. */
export const LOAD_OHM = 2.7;

const part = (ref: string) => BOARD.parts.find((one) => one.ref === ref)!;
const tolerance_ppm = (ref: string) => part(ref).tolerance_pct! * 1e4;
const term = (cause: string) => {
  const found = ERRORS.find((one) => one.cause === cause);
  if (found === undefined) throw new Error(`the error budget has no ${cause}`);
  return found;
};
const nanovolt = (cause: string) => term(cause).board_mA * SHUNT_OHM * 1e6;
const ppm = (cause: string) => (term(cause).board_mA / AT_MA) * 1e6;
const CRYSTAL_PPM = Number(/^(\d+) ppm/.exec(part('Y1').also!)![1]);

/** One sound board, meter and bench; the same for the same seed. */
export function soundSpecimen(seed: number): Specimen {
  const random = seededRandom(seed * 7919 + 17);
  const spread = (most: number) => most * (2 * random() - 1);
  const between = (least: number, most: number) => least + (most - least) * random();
  return {
    seed,
    offset_nV: spread(nanovolt('offset of the chip')),
    gain_ppm: spread(ppm('gain of the chip')),
    oscillator_ppm: spread(5000),
    bus_ppm: spread(1000),
    bus_mV: spread(2.5),
    bias_nA: [spread(2.5), spread(2.5)],
    emf_nV: spread(nanovolt('thermal EMF that comes after zero, copper to resistance alloy')),
    shunt_ppm: spread(tolerance_ppm('R1')),
    filter_ppm: [spread(tolerance_ppm('R5')), spread(tolerance_ppm('R6'))],
    surge_ppm: spread(tolerance_ppm('R7')),
    crystal_ppm: spread(CRYSTAL_PPM),
    draw_mA: between(20, 60),
    chip_K: between(0, 5),
    bench: {
      battery_V: between(12.2, 12.9),
      room_C: between(10, 32),
      load_ohm: [LOAD_OHM * (1 + spread(0.05)), LOAD_OHM * (1 + spread(0.05))],
      lead_ohm: between(0.02, 0.06),
    },
    meter: { current_ppm: spread(ppm("gain: the multimeter's")), voltage_ppm: spread(5000) },
  };
}
