// What whoever proves a board is told to do: one sentence for each step and each question, the same in the
// terminal and on the page. Two resistors of 2.7 Ω, a meter, a 12 V battery.
import { CAUTIONS } from '../say/cautions.ts';
import type { MeterId, Step } from './readings.ts';

/** The two resistors. */
const LOAD_OHM = 2.7;
/** A full battery at rest (practice), for the sake of the heat that is told. */
const BATTERY_V = 12.6;

/** Heat of one of them, alone across the battery: 59 W. */
export const LOAD_W: number = Math.round(BATTERY_V ** 2 / LOAD_OHM);

export interface StepWords {
  sentence: string;
  /** How long the board is listened to. */
  listen_s: number;
  /** While it is listened to. */
  meanwhile?: string;
  cautions: readonly string[];
}

const HOT: readonly string[] = [CAUTIONS.provingLoad.text, CAUTIONS.body.text];

export const WHAT_IT_TAKES = `Two resistors of ${LOAD_OHM} Ω, 50 W or more, on a metal plate; a 12 V battery; a lead with a 15 A fuse at the battery; a meter with a 10 A range.`;

export const STEP_WORDS: Record<Step, StepWords> = {
  rest: {
    sentence: 'Clamps X1 and X2 to the battery, X3 free: nothing flows through the shunt.',
    listen_s: 5,
    cautions: [CAUTIONS.body.text],
  },
  series: {
    sentence: `Both resistors one behind the other, from the fused lead at battery plus through the meter (10 A range) to X3. They turn ${Math.round(LOAD_W / 4)} W each to heat.`,
    listen_s: 2,
    cautions: HOT,
  },
  one: {
    sentence: `One resistor alone, the same way. It turns ${LOAD_W} W to heat: ten seconds.`,
    listen_s: 2,
    cautions: HOT,
  },
  both: {
    sentence: `Both side by side, the same way: some 9 A. They turn ${LOAD_W} W each to heat: ten seconds.`,
    listen_s: 2,
    cautions: HOT,
  },
  moved: {
    sentence:
      'One resistor alone again. While the board listens, move each lead at shunt, fuses and clamps a little; then take the last contact off.',
    listen_s: 5,
    meanwhile: 'Move the leads now, one after the other, and watch the meter.',
    cautions: HOT,
  },
  clock: {
    sentence: "The board's clock seems off. X3 free; leave all else as it is for 40 s.",
    listen_s: 40,
    cautions: [],
  },
};

export interface Question {
  sentence: string;
  unit: 'A' | 'V' | 'mV' | '°C' | 'yes or no';
  least: number;
  most: number;
}

const volts = (sentence: string): Question => ({ sentence, unit: 'V', least: 0, most: 30 });
const AMPERES: Question = {
  sentence: 'What does the meter show? Then take the last contact off.',
  unit: 'A',
  least: -20,
  most: 20,
};

export const QUESTIONS: Record<MeterId, Question> = {
  clamps_V: volts('Meter on volts, from clamp X1 to clamp X2: what does it show?'),
  series_A: AMPERES,
  one_A: AMPERES,
  both_A: AMPERES,
  shunt_mV: {
    sentence:
      'The same load on again for some seconds; the meter on millivolts, from the car side to the battery side of R1, at its sense terminals: what does it show?',
    unit: 'mV',
    least: -400,
    most: 400,
  },
  voltageLead_mV: {
    sentence: 'Meter on millivolts, from clamp X1 to pin 8 of U1: what does it show?',
    unit: 'mV',
    least: -20_000,
    most: 20_000,
  },
  supply_V: volts('Nothing comes from the board. Meter on volts, from pin 3 of U3 to its tab: what does it show?'),
  chipSupply_V: volts('The chip does not answer. Meter on volts, from pin 6 of U1 to pin 7: what does it show?'),
  sda_V: volts('The wires to the chip are held. Meter on volts, from pin 27 of U2 to pin 22: what does it show?'),
  scl_V: volts('And from pin 28 of U2 to pin 22?'),
  room_C: { sentence: 'How warm is it where the board lies, about?', unit: '°C', least: -20, most: 60 },
  jumps: {
    sentence: 'The reading jumped. Did the meter jump, too?',
    unit: 'yes or no',
    least: 0,
    most: 1,
  },
};
