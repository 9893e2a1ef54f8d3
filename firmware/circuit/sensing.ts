// The way of the car's current and the sense wires up to the chip, with fuses, filter and clamps:
// the same for the board and for ready-made modules.
import { BOARD_A, CAR_MAX_A, CLAMPED_V, CRANKING_INPUT_A, INPUT_OHM, SHUNT_OHM } from './given.ts';
import { capacitor, diode, fuse, net, resistor, terminal } from './parts.ts';
import { passive } from './shape.ts';
import type { Carrier, Net, Part } from './shape.ts';

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
  resistor(
    'R5',
    INPUT_OHM,
    ['FUSED_CAR', 'IN_PLUS'],
    'with C1 a filter of 80 kHz against keyless transmitters; limits what D2 and D3 bear',
  ),
  resistor('R6', INPUT_OHM, ['FUSED_BATTERY', 'IN_MINUS'], 'the same'),
  capacitor('C1', 100e-9, 50, ['IN_PLUS', 'IN_MINUS'], 'across the inputs'),
  diode(
    'D2',
    'BAT85',
    { current_A: 0.2, voltage_V: 30 },
    ['IN_MINUS', 'IN_PLUS'],
    'while cranking 0.3 V is left of 1 V; low leakage',
  ),
  diode('D3', 'BAT85', { current_A: 0.2, voltage_V: 30 }, ['IN_PLUS', 'IN_MINUS'], 'the same, the other way'),
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
  net('IN_PLUS', CLAMPED_V, CRANKING_INPUT_A, 'what D2 and D3 leave', BY_F2_F3),
  net('IN_MINUS', CLAMPED_V, CRANKING_INPUT_A, 'what D2 and D3 leave', BY_F2_F3),
];
