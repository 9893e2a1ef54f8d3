// The way of the car's current and the sense wires up to the chip, with fuses, filter and clamps:
// the same for the board and for ready-made modules.
import {
  BOARD_A,
  CAR_MAX_A,
  CLAMPED_V,
  CRANKING_INPUT_A,
  INPUT_OHM,
  LOAD_DUMP_V,
  PIN_OHM,
  SHUNT_OHM,
  VBUS_SERIES_OHM,
} from './given.ts';
import { capacitor, diode, fuse, net, resistor, terminal } from './parts.ts';
import { passive } from './shape.ts';
import type { Carrier, Net, Part } from './shape.ts';

/** 600 W for 1 ms; for long 1 W on the least copper (memory). */
const GROUND_CLAMP = { voltage_V: 24, power_W: 1 };

/** The way of the car's current, and the sense wires up to the chip: the second way has them too. */
export const SENSING: readonly Part[] = [
  terminal(
    'X2',
    'clamp for the minus post',
    60,
    ['BATTERY_MINUS', 'GROUND_LEAD'],
    'the thick path, and the ground lead of its own',
  ),
  terminal('X3', 'clamp for the cable end', 60, ['CAR'], 'the negative cable of the car'),
  fuse('F4', 40, ['BATTERY_MINUS', 'SHUNT_BATTERY'], 'opens before the leads burn when somebody cranks', true),
  {
    ref: 'R1',
    kind: 'shunt',
    value: SHUNT_OHM,
    unit: 'Ω',
    tolerance_pct: 1,
    also: '50 ppm/K or better, four terminals',
    ratings: { power_W: 7 },
    package: 'bolted',
    why: '10 A make 0.5 W, 30 A make 4.5 W in it; 20 mA make 100 µV, 1280 steps of the chip',
    pins: passive('I battery', 'I car', 'S battery', 'S car'),
    on: { '1': 'SHUNT_BATTERY', '2': 'CAR', '3': 'SENSE_BATTERY', '4': 'SENSE_CAR' },
  },
  fuse(
    'F2',
    0.5,
    ['SENSE_CAR', 'FUSED_CAR'],
    'at the clamp: a lead that chafes through must not carry the current of the car',
  ),
  fuse('F3', 0.5, ['SENSE_BATTERY', 'FUSED_BATTERY'], 'the same'),
  fuse(
    'F5',
    1,
    ['GROUND_LEAD', 'GND'],
    'at the clamp: a ground lead that touches the body would carry what cranking takes, past F4',
  ),
  resistor('R5', INPUT_OHM, ['FUSED_CAR', 'CLAMPED_CAR'], 'limits what D2, D3, D6 and D7 bear'),
  resistor('R6', INPUT_OHM, ['FUSED_BATTERY', 'CLAMPED_BATTERY'], 'the same'),
  diode(
    'D2',
    'BAT85',
    { current_A: 0.2, voltage_V: 30 },
    ['CLAMPED_BATTERY', 'CLAMPED_CAR'],
    'while cranking 0.5 V is left of 1 V; low leakage',
  ),
  diode(
    'D3',
    'BAT85',
    { current_A: 0.2, voltage_V: 30 },
    ['CLAMPED_CAR', 'CLAMPED_BATTERY'],
    'the same, the other way',
  ),
  diode(
    'D6',
    'SMBJ24A',
    GROUND_CLAMP,
    ['CLAMPED_CAR', 'GND'],
    'against ground: discharges, the bridge and a clamp that come off, a body below the post',
  ),
  diode('D7', 'SMBJ24A', GROUND_CLAMP, ['CLAMPED_BATTERY', 'GND'], 'the same'),
  resistor(
    'R15',
    PIN_OHM,
    ['CLAMPED_CAR', 'IN_PLUS'],
    'with C1 a filter of 14 kHz against keyless transmitters and ripple; limits what the chip takes',
  ),
  resistor('R16', PIN_OHM, ['CLAMPED_BATTERY', 'IN_MINUS'], 'the same'),
  capacitor('C1', 100e-9, 50, ['IN_PLUS', 'IN_MINUS'], 'across the inputs'),
];

/** Battery plus, as the chip reads it: the second way has it too. */
export const VOLTAGE: readonly Part[] = [
  resistor(
    'R14',
    VBUS_SERIES_OHM,
    ['SUPPLY', 'VBUS'],
    'swapped clamps put the whole battery across it, and not across the chip',
    { ratings: { power_W: 0.25 } },
  ),
  diode('D5', 'BAT46', { current_A: 0.15, voltage_V: 100 }, ['VBUS', 'GND'], 'holds VBUS at -0.45 V then'),
  capacitor('C16', 100e-9, 100, ['VBUS', 'GND'], 'what is shorter than 0.2 ms does not reach VBUS'),
];

const BY_F2_F3 = { fuses: ['F2', 'F3'] };

export const THICK: Carrier = { lead_mm2: 6 };
export const THIN: Carrier = { lead_mm2: 0.75 };

/** The car's path and the sense wires: the second way has them too. */
export const SENSING_NETS: readonly Net[] = [
  net('BATTERY_MINUS', 0.1, CAR_MAX_A, 'the largest draw that is measured', { fuses: ['F4'] }, THICK),
  net('SHUNT_BATTERY', 0.1, CAR_MAX_A, 'the same, behind F4', { fuses: ['F4'] }, THICK),
  net('CAR', 0.16, CAR_MAX_A, 'the same, behind the shunt: 30 A x 5 mΩ', { fuses: ['F4'] }, THICK),
  net('SENSE_BATTERY', 0.1, CRANKING_INPUT_A, 'cranking, behind R6', { fuses: ['F3'] }, THIN),
  net('SENSE_CAR', 1, CRANKING_INPUT_A, 'cranking: 200 A x 5 mΩ', { fuses: ['F2'] }, THIN),
  net('GROUND_LEAD', 0.1, BOARD_A, 'what the board draws', { fuses: ['F5'] }, THIN),
  net('FUSED_BATTERY', 0.1, CRANKING_INPUT_A, 'cranking, behind R6', BY_F2_F3, THIN),
  net('FUSED_CAR', 1, CRANKING_INPUT_A, 'cranking: 200 A x 5 mΩ', BY_F2_F3, THIN),
  net('CLAMPED_BATTERY', CLAMPED_V, CRANKING_INPUT_A, 'what D2 and D3 leave', BY_F2_F3),
  net('CLAMPED_CAR', CLAMPED_V, CRANKING_INPUT_A, 'what D2 and D3 leave', BY_F2_F3),
  net('IN_PLUS', CLAMPED_V, CRANKING_INPUT_A, 'what D2 and D3 leave', BY_F2_F3),
  net('IN_MINUS', CLAMPED_V, CRANKING_INPUT_A, 'what D2 and D3 leave', BY_F2_F3),
];

export const VOLTAGE_NET: Net = net('VBUS', LOAD_DUMP_V, LOAD_DUMP_V / VBUS_SERIES_OHM, 'a short behind R14', {
  words: 'R14 limits it',
  current_A: LOAD_DUMP_V / VBUS_SERIES_OHM,
});
