// Boards built wrongly: each an edit of the circuit's one source, a part left out, of another value or on
// another net, or a joint that jumps. `is` names the mistake, in the word that the judging must find.
import { BOARD } from '../../../firmware/circuit/board.ts';
import { OPEN } from '../../../firmware/circuit/shape.ts';
import type { Circuit, Part } from '../../../firmware/circuit/shape.ts';

export interface Build {
  circuit: Circuit;
  /** A part whose connection jumps when it is moved: by up to so much, or all open. */
  joint?: { ref: string; ohm: number };
  /** The joint jumps by itself, too. */
  restless?: true;
  eepromWorn?: true;
  /** Something hot lies against U1. */
  heat_K?: number;
}

export interface BuildFault extends Build {
  is: string;
  /** What was done to the board. */
  what: string;
}

const edited = (change: (part: Part) => Part | null): Circuit => ({
  ...BOARD,
  parts: BOARD.parts.flatMap((part) => change(part) ?? []),
});
const having = (ref: string, change: (part: Part) => Part | null): Circuit => {
  if (!BOARD.parts.some((part) => part.ref === ref)) throw new Error(`the board has no ${ref}`);
  return edited((part) => (part.ref === ref ? change(part) : part));
};
const without = (ref: string) => having(ref, () => null);
const withValue = (ref: string, value: number) => having(ref, (part) => ({ ...part, value }));
const withPins = (ref: string, on: Record<string, string>) =>
  having(ref, (part) => ({ ...part, on: { ...part.on, ...on } }));

export const SOUND: Build = { circuit: BOARD };

export const BUILD_FAULTS: readonly BuildFault[] = [
  {
    is: 'sense-swapped',
    what: 'the sense leads of R1 swapped',
    circuit: withPins('R1', { '3': 'SENSE_CAR', '4': 'SENSE_BATTERY' }),
  },
  { is: 'shunt', what: 'a shunt of 1.5 mΩ (50 A, 75 mV) for R1', circuit: withValue('R1', 0.0015) },
  {
    is: 'bolts',
    what: 'the sense leads on the bolts of R1, not on its sense terminals',
    circuit: withPins('R1', { '3': 'SHUNT_BATTERY=SENSE_BATTERY', '4': 'CAR=SENSE_CAR' }),
  },
  { is: 'alert', what: 'ALERT of U1 not joined', circuit: withPins('U1', { '3': OPEN }) },
  { is: 'pull-up-sda', what: 'R2 left out', circuit: without('R2') },
  { is: 'pull-up-scl', what: 'R3 left out', circuit: without('R3') },
  { is: 'pull-up-weak', what: '10 kΩ for R2', circuit: withValue('R2', 10_000) },
  { is: 'address', what: 'A0 of U1 at 5 V', circuit: withPins('U1', { '2': '5V' }) },
  { is: 'chip-supply', what: 'VS of U1 not joined', circuit: withPins('U1', { '6': OPEN }) },
  { is: 'sense-joint', what: 'a cold joint in the sense lead at F2', circuit: BOARD, joint: { ref: 'F2', ohm: 1e8 } },
  { is: 'thick-joint', what: 'a cold joint in the lead of X3', circuit: BOARD, joint: { ref: 'X3', ohm: 0.4 } },
  {
    is: 'supply-dips',
    what: 'the holder of F1 makes poor contact',
    circuit: BOARD,
    joint: { ref: 'F1', ohm: 1e8 },
    restless: true,
  },
  {
    is: 'past-shunt',
    what: 'the thick lead of X3 on the battery side of R1',
    circuit: withPins('X3', { '1': 'SHUNT_BATTERY' }),
  },
  {
    is: 'ground-lead',
    what: 'the ground lead on the clamp for the cable end',
    circuit: withPins('F5', { '1': 'CAR' }),
  },
  { is: 'voltage-open', what: 'VBUS of U1 not joined', circuit: withPins('U1', { '8': OPEN }) },
  { is: 'voltage-low', what: 'VBUS of U1 behind R7', circuit: withPins('U1', { '8': 'SURGE' }) },
  { is: 'filter', what: '10 kΩ for R5', circuit: withValue('R5', 10_000) },
  { is: 'sense-open', what: 'no fuse F3', circuit: without('F3') },
  { is: 'other-chip', what: 'an INA226 for U1', circuit: having('U1', (part) => ({ ...part, type: 'INA226' })) },
  { is: 'clock', what: 'a ceramic resonator, off by 0.3 %, for Y1', circuit: withValue('Y1', 16e6 * 1.003) },
  { is: 'store', what: 'the EEPROM of U2 worn out', circuit: BOARD, eepromWorn: true },
  { is: 'no-current', what: 'no fuse F4', circuit: without('F4') },
  { is: 'noise', what: 'C1 left out', circuit: without('C1') },
  { is: 'warm', what: 'U3 against U1', circuit: BOARD, heat_K: 35 },
  { is: 'no-supply', what: 'no fuse F1', circuit: without('F1') },
];
