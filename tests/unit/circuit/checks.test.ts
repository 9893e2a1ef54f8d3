// The circuit of the board is sound, fits the firmware, and each kind of mistake is found when it is made.
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { BOARD } from '../../../firmware/circuit/board.ts';
import { carries_A, checkAll } from '../../../firmware/circuit/checks.ts';
import * as given from '../../../firmware/circuit/given.ts';
import { checkFirmware, firmwareNeeds } from '../../../firmware/circuit/firmware-pins.ts';
import type { FirmwareSource } from '../../../firmware/circuit/firmware-pins.ts';
import type { Circuit, Net, Part } from '../../../firmware/circuit/shape.ts';

const file = (name: string) => readFileSync(new URL(`../../../firmware/${name}`, import.meta.url), 'utf8');
const source: FirmwareSource = {
  chip: file('boards/atmega328p/chip.h'),
  board: file('boards/atmega/board.c'),
  sense: file('core/sense.h'),
  makefile: file('Makefile'),
};
const needs = firmwareNeeds(source);
const CHIPS = { sense: 'U1', processor: 'U2', serial: 'U4' };

/** The board with one part or net changed. */
const withPart = (ref: string, change: Partial<Part>): Circuit => ({
  ...BOARD,
  parts: BOARD.parts.map((part) => (part.ref === ref ? { ...part, ...change } : part)),
});
const withNet = (name: string, change: Partial<Net>): Circuit => ({
  ...BOARD,
  nets: BOARD.nets.map((net) => (net.name === name ? { ...net, ...change } : net)),
});
const part = (ref: string) => BOARD.parts.find((one) => one.ref === ref)!;
const moved = (ref: string, pin: string, net: string) => withPart(ref, { on: { ...part(ref).on, [pin]: net } });

test('pins, outputs, ratings, fuses and isolation of the board are sound', () => {
  expect(checkAll(BOARD)).toEqual([]);
});

test('it fits the firmware, as its source has it', () => {
  expect(checkFirmware(BOARD, needs, CHIPS)).toEqual([]);
});

describe('a mistake is found', () => {
  const withoutSCL = Object.fromEntries(Object.entries(part('U2').on).filter(([pin]) => pin !== '28'));

  test.each<[string, Circuit, RegExp]>([
    ['a pin forgotten', withPart('U2', { on: withoutSCL }), /^U2\.28 \(PC5\) is on no net/],
    ['a net that nobody tells of', moved('R4', '2', 'ALRET'), /R4\.2 is on ALRET/],
    ['a net of one pin', moved('C7', '1', 'GND'), /AREF joins 1 pin/],
    ['a pin that is not there', moved('R4', '3', 'GND'), /R4 has no pin 3/],
    ['two parts of one name', { ...BOARD, parts: [...BOARD.parts, part('R4')] }, /R4 is there twice/],
    ['two outputs on one net', moved('U4', '17', '5V'), /5V has more than one output: U3\.VQ, U4\.3V3OUT/],
    [
      'a capacitor of too little voltage',
      withPart('C2', { ratings: { voltage_V: 35 } }),
      /C2 bears voltage_V 35, and needs/,
    ],
    ['a shunt of 3 W', withPart('R1', { ratings: { power_W: 3 } }), /R1 bears power_W 3, and needs 6\.75: 30 A/],
    ['a regulator of 40 mA', withPart('U3', { ratings: { current_A: 0.04 } }), /U3 bears current_A 0\.04/],
    [
      'a fuse that cannot end a short of the battery',
      withPart('F2', { ratings: { breaking_A: 35 } }),
      /F2 bears breaking_A 35/,
    ],
    ['a rating that nobody derived', withPart('Y1', { ratings: { power_W: 0.001 } }), /Y1: nobody has derived/],
    ['a fuse too large for its lead', withPart('F4', { value: 60 }), /^CAR carries 54\.0 A, and 81\.0 A may flow/],
    [
      'a trace too thin for its fuse',
      withNet('SURGE', { carrier: { trace_mm: 0.1 } }),
      /^SURGE carries 0\.\d+ A, and 1\.\d+ A/,
    ],
    [
      'a ground lead past its fuse',
      moved('U3', '2', 'GROUND_LEAD'),
      /^SURGE can be reached from a battery past every fuse/,
    ],
    ['a net that relies on no fuse', withNet('SUPPLY', { limitedBy: { fuses: ['F9'] } }), /SUPPLY relies on F9/],
    [
      'a resistor behind which the fuse never opens',
      withPart('R7', { value: 22 }),
      /a short behind R7 is 0\.432 A, and F1 needs 1\.38 A/,
    ],
    ['pull-ups too weak for 400 kHz', withPart('R2', { value: 10_000 }), /^SDA takes 847 ns to rise/],
    ['pull-ups too strong for the chip', withPart('R3', { value: 1000 }), /^SCL has 5\.10 mA to pull down/],
    ['a capacitor across the isolator', moved('C14', '2', 'GND'), /C14 joins the computer's side/],
  ])('%s', (_name, circuit, complaint) => {
    expect(checkAll(circuit)).toContainEqual(expect.stringMatching(complaint));
  });

  test.each<[string, Circuit, RegExp]>([
    [
      'SDA and SCL swapped',
      withPart('U2', { on: { ...part('U2').on, '27': 'SCL', '28': 'SDA' } }),
      /U2\.PC4 is not on the net of U1\.SDA/,
    ],
    [
      'RXD to RXD',
      withPart('U4', { on: { ...part('U4').on, '1': 'TX', '5': 'RX' } }),
      /U2\.PD0 is not on the net of U4\.TXD/,
    ],
    [
      'ALERT on another pin',
      withPart('U2', { on: { ...part('U2').on, '4': 'open', '5': 'ALERT' } }),
      /U2\.PD2 is not on the net of U1\.ALERT/,
    ],
    ['another address', moved('U1', '2', '5V'), /U1 answers at 41h, the firmware asks 40h/],
    ['a crystal of 8 MHz', withPart('Y1', { value: 8e6 }), /the crystal is not that of the firmware, 16000000 Hz/],
    ['DTR on RESET', moved('U4', '2', 'RESET'), /U4\.DTR is connected/],
    ['no pull-up', withPart('R4', { on: { '1': 'GND', '2': 'ALERT' } }), /ALERT has no pull-up/],
    ['the light elsewhere', moved('U2', '19', 'MISO'), /no light on U2\.PB5/],
  ])('against the firmware: %s', (_name, circuit, complaint) => {
    expect(checkFirmware(circuit, needs, CHIPS)).toContainEqual(expect.stringMatching(complaint));
  });

  test('a firmware that uses another pin', () => {
    const changed = firmwareNeeds({ ...source, chip: source.chip.replace('LIGHT_BIT PB5', 'LIGHT_BIT PB1') });
    expect(checkFirmware(BOARD, changed, CHIPS)).toEqual(['no light on U2.PB1']);
    expect(() => firmwareNeeds({ ...source, chip: '' })).toThrow(/no longer has/);
  });
});

test('what leads and traces carry', () => {
  expect(carries_A({ lead_mm2: 6 })).toBe(54);
  // IPC-2221 by hand: 1 mm of 35 µm are 54.25 mil²; 0.048 x 20^0.44 x 54.25^0.725 = 3.24 A.
  expect(carries_A({ trace_mm: 1 })).toBeCloseTo(3.24, 2);
});

test('U3 takes up to 1.2 W in a jump start with 24 V, as BOARD.md says, more than its rating', () => {
  const input_V = 24 - given.BOARD_A * given.SUPPLY_OHM;
  const taken_W = (input_V - 5) * given.FIVE_VOLT_A + input_V * given.REGULATOR_A;
  expect(taken_W).toBeLessThanOrEqual(1.2);
  expect(taken_W).toBeGreaterThan(part('U3').ratings.power_W!);
  expect(file('BOARD.md')).toContain('U3 then takes up to 1.2 W');
});
