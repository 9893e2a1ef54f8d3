// The board of BOARD.md's drawing 1, whole: parts with what they must bear, nets, and which pin is
// on which. Changed here, and `make.ts` writes everything that is made of it.
import { ADUM3160, ATMEGA328P, FT232RL, INA228, TLE4264G } from './chips.ts';
import {
  BOARD_A,
  DRAW_A,
  F1_A,
  FIVE_VOLT_A,
  LIGHT_A,
  LIGHT_OHM,
  LIGHT_V,
  LOAD_DUMP_HALF_S,
  LOAD_DUMP_V,
  PULL_UP_OHM,
  SUPPLY_MAX_V,
  SUPPLY_OHM,
  SURGE_A,
  SURGE_V,
} from './given.ts';
import { capacitor, chip, diode, fuse, net, resistor, terminal } from './parts.ts';
import { SENSING, SENSING_NETS, THIN, VOLTAGE, VOLTAGE_NET } from './sensing.ts';
import { OPEN, passive } from './shape.ts';
import type { Circuit, Part } from './shape.ts';

/** Battery plus to 5 V. */
const SUPPLY: readonly Part[] = [
  terminal('X1', 'clamp for the plus post', 1, ['BATTERY_PLUS'], 'supply and voltage'),
  fuse(
    'F1',
    F1_A,
    ['BATTERY_PLUS', 'SUPPLY'],
    'at the clamp; opens through R7 too, when D1 or U3 fails or the clamps are swapped',
  ),
  resistor('R7', SUPPLY_OHM, ['SUPPLY', 'SURGE'], 'what the supply lead catches ends in it and in D1', {
    tolerance_pct: 5,
    also: 'wirewound, ten times its power for 5 s, flameproof',
    ratings: { power_W: 3, energy_J: 150 },
    package: 'axial',
  }),
  // 600 W for 1 ms; what a suppressor bears falls with the root of the time (memory): 55 W for 120 ms.
  diode(
    'D1',
    'SMBJ24A',
    { voltage_V: 24, power_W: 600 * Math.sqrt(0.001 / LOAD_DUMP_HALF_S) },
    ['SURGE', 'GND'],
    'suppressor, 600 W for 1 ms; holds the regulator below 40 V',
  ),
  capacitor('C2', 100e-9, 100, ['SURGE', 'GND'], 'input of the regulator'),
  chip(
    {
      ref: 'U3',
      type: 'TLE4264G',
      // 150 °C less 40 °C of a bonnet at night, at 100 K/W on the least copper (memory).
      ratings: { voltage_V: 45, current_A: 0.12, power_W: 1.1 },
      package: 'SOT-223',
      why: 'regulator to 5 V that bears 45 V at its input, and swapped clamps',
      pins: TLE4264G,
    },
    { '1': 'SURGE', '2': 'GND', '3': '5V', '4': 'GND' },
    [],
  ),
  capacitor('C3', 22e-6, 16, ['5V', 'GND'], 'output of the regulator: 10 µF or more'),
];

const SENSE_CHIP = chip(
  {
    ref: 'U1',
    type: 'INA228',
    ratings: { voltage_V: 85, supply_V: 5.5 },
    package: 'VSSOP-10',
    why: 'two ranges, ±40.96 mV and ±163.84 mV; offset ±1 µV, gain ±0.05 %; address 40h',
    pins: INA228,
  },
  {
    '1': 'GND',
    '2': 'GND',
    '3': 'ALERT',
    '4': 'SDA',
    '5': 'SCL',
    '6': '5V',
    '7': 'GND',
    '8': 'VBUS',
    '9': 'IN_MINUS',
    '10': 'IN_PLUS',
  },
  [],
);

const PROCESSOR: readonly Part[] = [
  SENSE_CHIP,
  capacitor('C4', 100e-9, 16, ['5V', 'GND'], 'beside U1'),
  resistor('R2', PULL_UP_OHM, ['5V', 'SDA'], 'for 400 kHz'),
  resistor('R3', PULL_UP_OHM, ['5V', 'SCL'], 'for 400 kHz'),
  resistor('R4', 10_000, ['5V', 'ALERT'], 'the chip only pulls low'),
  chip(
    {
      ref: 'U2',
      type: 'ATmega328P',
      ratings: { supply_V: 5.5 },
      package: 'DIP-28',
      why: 'microcontroller, 5 V',
      pins: ATMEGA328P,
    },
    {
      '1': 'RESET',
      '2': 'RX',
      '3': 'TX',
      '4': 'ALERT',
      '7': '5V',
      '8': 'GND',
      '9': 'XTAL1',
      '10': 'XTAL2',
      '17': 'MOSI',
      '18': 'MISO',
      '19': 'LIGHT',
      '20': '5V',
      '21': 'AREF',
      '22': 'GND',
      '27': 'SDA',
      '28': 'SCL',
    },
    ['5', '6', '11', '12', '13', '14', '15', '16', '23', '24', '25', '26'],
  ),
  capacitor('C5', 100e-9, 16, ['5V', 'GND'], 'beside VCC of U2'),
  capacitor('C6', 100e-9, 16, ['5V', 'GND'], 'beside AVCC of U2'),
  capacitor('C7', 100e-9, 16, ['AREF', 'GND'], 'the reference is not used, and kept quiet'),
  {
    ref: 'Y1',
    kind: 'crystal',
    value: 16e6,
    unit: 'Hz',
    also: '50 ppm, for 18 pF',
    ratings: {},
    package: 'HC49',
    why: 'a ceramic resonator is off by up to 0.5 %, 180 s in ten hours',
    pins: passive('1', '2'),
    on: { '1': 'XTAL1', '2': 'XTAL2' },
  },
  capacitor(
    'C8',
    22e-12,
    50,
    ['XTAL1', 'GND'],
    'load of the crystal: 22 pF twice in series and some 7 pF of the board make 18 pF',
  ),
  capacitor('C9', 22e-12, 50, ['XTAL2', 'GND'], 'the same'),
  resistor('R9', 10_000, ['5V', 'RESET'], 'holds RESET up'),
  {
    ref: 'S1',
    kind: 'button',
    type: 'push button',
    ratings: { voltage_V: 12, current_A: 0.05 },
    package: '6 x 6 mm',
    why: 'RESET by hand, to flash through a boot loader',
    pins: passive('1', '2'),
    on: { '1': 'RESET', '2': 'GND' },
  },
  resistor('R8', LIGHT_OHM, ['LIGHT', 'LIGHT_ANODE'], 'current of the light'),
  {
    ref: 'D4',
    kind: 'light',
    type: 'light, red',
    ratings: { current_A: 0.02 },
    package: '3 mm',
    why: 'the command `b` blinks it',
    pins: passive('K', 'A'),
    on: { '1': 'GND', '2': 'LIGHT_ANODE' },
  },
  {
    ref: 'J1',
    kind: 'connector',
    type: 'pin header 2 x 3',
    ratings: { current_A: 1 },
    package: '2.54 mm',
    why: 'a programmer: `flash --programmer`',
    pins: passive('MISO', '5V', 'SCK', 'MOSI', 'RESET', 'GND'),
    on: { '1': 'MISO', '2': '5V', '3': 'LIGHT', '4': 'MOSI', '5': 'RESET', '6': 'GND' },
  },
];

const usbResistor = (ref: string, ends: [string, string]) =>
  resistor(ref, 24, ends, 'matches the line, as the data sheet of U5 asks');

const USB: readonly Part[] = [
  chip(
    {
      ref: 'U4',
      type: 'FT232RL',
      ratings: { supply_V: 5.25 },
      package: 'SSOP-28',
      why: 'USB to serial, 500 000 baud exactly (3 MHz / 6); DTR stays open: no reset by opening the port',
      pins: FT232RL,
    },
    {
      '1': 'RX',
      '4': '5V',
      '5': 'TX',
      '7': 'GND',
      '15': 'DEVICE_DP',
      '16': 'DEVICE_DM',
      '17': '3V3',
      '18': 'GND',
      '19': '5V',
      '20': '5V',
      '21': 'GND',
      '25': 'GND',
      '26': 'GND',
    },
    ['2', '3', '6', '8', '9', '10', '11', '12', '13', '14', '22', '23', '24', '27', '28'],
  ),
  capacitor('C10', 100e-9, 16, ['5V', 'GND'], 'beside U4'),
  capacitor('C11', 100e-9, 16, ['3V3', 'GND'], "U4's own 3.3 V"),
  usbResistor('R10', ['DEVICE_DP', 'DD_PLUS']),
  usbResistor('R11', ['DEVICE_DM', 'DD_MINUS']),
  chip(
    {
      ref: 'U5',
      type: 'ADuM3160',
      ratings: { supply_V: 5.5 },
      package: 'SOIC-16 wide',
      why: 'USB isolator, 2.5 kV: see "USB and ground"',
      pins: ADUM3160,
    },
    {
      '1': 'USB_5V',
      '2': 'USB_GND',
      '3': 'USB_3V3',
      '4': 'USB_3V3',
      '5': 'USB_3V3',
      '6': 'UD_MINUS',
      '7': 'UD_PLUS',
      '8': 'USB_GND',
      '9': 'GND',
      '10': 'DD_PLUS',
      '11': 'DD_MINUS',
      '12': 'VDD2',
      '13': 'VDD2',
      '14': 'VDD2',
      '15': 'GND',
      '16': '5V',
    },
    [],
  ),
  capacitor('C12', 100e-9, 16, ['5V', 'GND'], 'beside VBUS2 of U5'),
  capacitor('C13', 100e-9, 16, ['VDD2', 'GND'], 'beside VDD2 of U5'),
  capacitor('C14', 100e-9, 16, ['USB_5V', 'USB_GND'], 'beside VBUS1 of U5'),
  capacitor('C15', 100e-9, 16, ['USB_3V3', 'USB_GND'], 'beside VDD1 of U5'),
  usbResistor('R12', ['USB_DP', 'UD_PLUS']),
  usbResistor('R13', ['USB_DM', 'UD_MINUS']),
  {
    ref: 'J2',
    kind: 'connector',
    type: 'USB socket, type B',
    ratings: { current_A: 1 },
    package: 'through the board',
    why: 'to the computer; its shield stays open, since it may be earthed',
    pins: passive('VBUS', 'D-', 'D+', 'GND', 'SHIELD'),
    on: { '1': 'USB_5V', '2': 'USB_DM', '3': 'USB_DP', '4': 'USB_GND', '5': OPEN },
  },
];

const BY_F1 = { fuses: ['F1'] };
/** U3 limits what it gives: data sheet, 500 mA at most (memory). */
const BY_U3 = { words: 'U3 limits it', current_A: 0.5 };
/** USB 2.0, 7.2.1.2.1: a port ends an overcurrent by 5 A. */
const BY_PORT = { words: "the computer's port limits it", current_A: 5 };

/** A net between chips: 5 V logic. */
const logic = (name: string, current_A: number, because: string) => net(name, SUPPLY_MAX_V, current_A, because, BY_U3);
const usb = (name: string) => net(name, 3.6, 0.02, 'full speed USB into 50 pF', BY_U3);
const hostUsb = (name: string) =>
  net(name, 3.6, 0.02, 'full speed USB into 50 pF', {
    words: 'U5 drives it through 24 Ω: 3.6 V / 28 Ω',
    current_A: 0.13,
  });

export const BOARD: Circuit = {
  name: 'board',
  parts: [...SUPPLY, ...SENSING, ...VOLTAGE, ...PROCESSOR, ...USB],
  nets: [
    net('BATTERY_PLUS', LOAD_DUMP_V, BOARD_A, 'what the board draws; 35 V in a load dump', BY_F1, THIN),
    net('SUPPLY', LOAD_DUMP_V, SURGE_A, 'load dump through R7 into D1', BY_F1, THIN),
    net('SURGE', SURGE_V, SURGE_A, 'what D1 leaves of the load dump', BY_F1, { trace_mm: 0.5 }),
    net('5V', SUPPLY_MAX_V, FIVE_VOLT_A, 'all chips, the light, all pull-ups low', BY_U3, { trace_mm: 0.5 }),
    net('GND', 0, BOARD_A, 'what the board draws', { fuses: ['F5'] }, { trace_mm: 1 }),
    ...SENSING_NETS,
    VOLTAGE_NET,
    logic('ALERT', SUPPLY_MAX_V / 10_000, 'R4 held low'),
    logic('SDA', SUPPLY_MAX_V / PULL_UP_OHM, 'R2 held low'),
    logic('SCL', SUPPLY_MAX_V / PULL_UP_OHM, 'R3 held low'),
    logic('RESET', SUPPLY_MAX_V / 10_000, 'R9 held low'),
    logic('RX', 0.001, 'an input'),
    logic('TX', 0.001, 'an input'),
    logic('MOSI', 0.001, 'an input'),
    logic('MISO', 0.001, 'an input'),
    logic('LIGHT', LIGHT_A, 'D4 lit'),
    net('LIGHT_ANODE', LIGHT_V, LIGHT_A, 'D4 lit', BY_U3),
    logic('XTAL1', 0.001, 'the crystal'),
    logic('XTAL2', 0.001, 'the crystal'),
    logic('AREF', 0.001, 'C7 charged through 32 kΩ'),
    net('3V3', 3.6, 0.001, "U4's own regulator, for itself", BY_U3),
    net('VDD2', 3.6, 0.001, "U5's own regulator, for itself", BY_U3),
    usb('DEVICE_DP'),
    usb('DEVICE_DM'),
    usb('DD_PLUS'),
    usb('DD_MINUS'),
    hostUsb('UD_PLUS'),
    hostUsb('UD_MINUS'),
    hostUsb('USB_DP'),
    hostUsb('USB_DM'),
    net('USB_5V', 5.5, DRAW_A.U5, 'side 1 of U5', BY_PORT, { trace_mm: 2 }),
    net('USB_3V3', 3.6, 0.001, "U5's own regulator, for itself", { words: 'U5 limits it', current_A: 0.1 }),
    net('USB_GND', 0, DRAW_A.U5, 'side 1 of U5', BY_PORT, { trace_mm: 2 }),
  ],
  sources: ['BATTERY_PLUS', 'BATTERY_MINUS', 'SHUNT_BATTERY', 'CAR', 'SENSE_BATTERY', 'SENSE_CAR', 'GROUND_LEAD'],
  ground: 'GND',
};
