// The second way, without a board house: two ready-made modules, a ready-made USB isolator and an
// outside shunt, joined by leads. What the car's current and the sense wires pass is in sensing.ts.
import { BOARD_A, F1_A, LOAD_DUMP_V, PULL_UP_OHM, SUPPLY_MAX_V } from './given.ts';
import { SENSING, SENSING_NETS, THIN, VOLTAGE, VOLTAGE_NET } from './sensing.ts';
import { OPEN, passive } from './shape.ts';
import type { Circuit, Part, Pin } from './shape.ts';

const pin = (number: string, name: string, role: Pin['role']): Pin => ({ number, name, role });

const pullUp = (ref: string, ohm: number, net: string, why: string): Part => ({
  ref,
  kind: 'resistor',
  value: ohm,
  unit: 'Ω',
  tolerance_pct: 5,
  ratings: { power_W: 0.25 },
  package: 'axial 0207',
  why,
  pins: passive('1', '2'),
  on: { '1': '5V', '2': net },
});

const MODULES: readonly Part[] = [
  {
    ref: 'M1',
    kind: 'module',
    type: 'module with an INA228',
    also: 'its own shunt taken off, VBUS on a pin of its own, A0 and A1 to GND',
    ratings: { voltage_V: 85, supply_V: 5.5 },
    package: 'as bought',
    why: 'a shunt left on it lies across the outside one through R5 and R6, and nothing is measured',
    pins: [
      pin('1', 'VS', 'supply in'),
      pin('2', 'GND', 'supply in'),
      pin('3', 'SCL', 'input'),
      pin('4', 'SDA', 'both'),
      pin('5', 'ALERT', 'pulls low'),
      pin('6', 'VBUS', 'input'),
      pin('7', 'IN+', 'input'),
      pin('8', 'IN-', 'input'),
    ],
    on: {
      '1': '5V',
      '2': 'GND',
      '3': 'SCL',
      '4': 'SDA',
      '5': 'ALERT',
      '6': 'VBUS',
      '7': 'IN_PLUS',
      '8': 'IN_MINUS',
    },
  },
  {
    ref: 'M2',
    kind: 'module',
    type: 'module with an ATmega328P, 16 MHz, 5 V, and a USB converter (FT232R, CH340 or ATmega16U2)',
    also: 'the capacitor from DTR to RESET taken out; a crystal, if there is the choice',
    ratings: { supply_V: 5.5 },
    package: 'as bought',
    why: '500 000 baud exactly is needed; a resonator in place of the crystal is off by up to 0.5 %',
    pins: [
      pin('1', '5V', 'supply out'),
      pin('2', 'GND', 'supply in'),
      pin('3', 'PC4/A4', 'both'),
      pin('4', 'PC5/A5', 'both'),
      pin('5', 'PD2/D2', 'both'),
      pin('6', 'USB', 'both'),
      pin('7', 'VIN', 'passive'),
      pin('8', 'RESET', 'input'),
    ],
    on: { '1': '5V', '2': 'GND', '3': 'SDA', '4': 'SCL', '5': 'ALERT', '6': 'CABLE', '7': OPEN, '8': OPEN },
  },
  {
    ref: 'M3',
    kind: 'module',
    type: 'USB isolator with an ADuM3160',
    also: 'full speed, its 5 V regulated to 4.75 to 5.25 V, 100 mA or more',
    ratings: { supply_V: 5.5 },
    package: 'as bought',
    why: 'see "USB and ground"',
    pins: [pin('1', 'HOST', 'both'), pin('2', 'DEVICE', 'both')],
    on: { '1': 'USB_CABLE', '2': 'CABLE' },
  },
  {
    ref: 'X4',
    kind: 'connector',
    type: 'computer',
    ratings: {},
    package: 'USB',
    why: 'records',
    pins: passive('USB'),
    on: { '1': 'USB_CABLE' },
  },
];

const OF_USB = { words: "the isolator's supply and the port behind it limit it", current_A: 0.5 };

export const MODULES_CIRCUIT: Circuit = {
  name: 'modules',
  parts: [
    {
      ref: 'X1',
      kind: 'terminal',
      type: 'clamp for the plus post',
      ratings: { current_A: 1 },
      package: 'clamp',
      why: 'voltage alone: the supply comes from the computer',
      pins: passive('1'),
      on: { '1': 'BATTERY_PLUS' },
    },
    {
      ref: 'F1',
      kind: 'fuse',
      value: F1_A,
      unit: 'A',
      also: 'quick-acting, ceramic, high breaking capacity',
      ratings: { current_A: F1_A, voltage_V: 250, breaking_A: 1500 },
      package: '5 x 20 mm in a closed in-line holder',
      why: 'at the clamp',
      pins: passive('1', '2'),
      on: { '1': 'BATTERY_PLUS', '2': 'SUPPLY' },
    },
    ...SENSING,
    ...VOLTAGE,
    ...MODULES,
    pullUp('R2', PULL_UP_OHM, 'SDA', 'for 400 kHz: what a module brings, 4.7 or 10 kΩ, is too weak'),
    pullUp('R3', PULL_UP_OHM, 'SCL', 'the same'),
    pullUp('R4', 10_000, 'ALERT', 'the chip only pulls low'),
  ],
  nets: [
    {
      name: 'BATTERY_PLUS',
      voltage_V: LOAD_DUMP_V,
      current_A: 0.001,
      because: 'VBUS takes microamperes',
      carrier: THIN,
      limitedBy: { fuses: ['F1'] },
    },
    {
      name: 'SUPPLY',
      voltage_V: LOAD_DUMP_V,
      current_A: 0.001,
      because: 'VBUS takes microamperes',
      carrier: THIN,
      limitedBy: { fuses: ['F1'] },
    },
    ...[...SENSING_NETS, VOLTAGE_NET].map((net) => ('trace_mm' in net.carrier ? { ...net, carrier: THIN } : net)),
    {
      name: 'GND',
      voltage_V: 0,
      current_A: BOARD_A,
      because: 'leads alone',
      carrier: THIN,
      limitedBy: { fuses: ['F5'] },
    },
    ...(['5V', 'SDA', 'SCL', 'ALERT'] as const).map((name) => ({
      name,
      voltage_V: SUPPLY_MAX_V,
      current_A: 0.02,
      because: 'M1 and the pull-ups',
      carrier: THIN,
      limitedBy: OF_USB,
    })),
    ...(['CABLE', 'USB_CABLE'] as const).map((name) => ({
      name,
      voltage_V: 5.5,
      current_A: 0.1,
      because: 'the two modules',
      carrier: { cable: 'USB' as const },
      limitedBy: OF_USB,
    })),
  ],
  sources: ['BATTERY_PLUS', 'BATTERY_MINUS', 'SHUNT_BATTERY', 'CAR', 'SENSE_BATTERY', 'SENSE_CAR', 'GROUND_LEAD'],
  ground: 'GND',
};
