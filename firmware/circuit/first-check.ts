// Ten minutes with a meter before the first clamp: what must be between which points, worked out from
// the circuit, so that a fuse that is open, a wrong resistor and a solder bridge show before any current flows.
import * as given from './given.ts';
import { OPEN, written } from './shape.ts';
import type { Circuit } from './shape.ts';
import { table } from './tables.ts';

interface Measured {
  /** The nets, and where a probe reaches them. */
  from: string;
  to: string;
  where: string;
}

/** In the order in which the hand goes over the board. */
export const MEASURED: readonly Measured[] = [
  { from: 'BATTERY_MINUS', to: 'CAR', where: 'clamp X2 and clamp X3' },
  { from: 'BATTERY_MINUS', to: 'GND', where: 'clamp X2 and tab of U3' },
  { from: 'BATTERY_PLUS', to: 'SURGE', where: 'clamp X1 and cathode of D1' },
  { from: 'BATTERY_PLUS', to: 'VBUS', where: 'clamp X1 and pin 8 of U1' },
  { from: 'CAR', to: 'IN_PLUS', where: 'clamp X3 and pin 10 of U1' },
  { from: 'BATTERY_MINUS', to: 'IN_MINUS', where: 'clamp X2 and pin 9 of U1' },
  { from: 'IN_PLUS', to: 'IN_MINUS', where: 'pins 10 and 9 of U1' },
  { from: 'SURGE', to: 'GND', where: 'cathode of D1 (red probe) and tab of U3' },
  { from: '5V', to: 'GND', where: 'pin 3 of U3 (red probe) and tab of U3' },
  { from: '5V', to: 'SDA', where: 'pin 3 of U3 and pin 27 of U2' },
  { from: '5V', to: 'SCL', where: 'pin 3 of U3 and pin 28 of U2' },
  { from: '5V', to: 'ALERT', where: 'pin 3 of U3 and pin 4 of U2' },
  { from: '5V', to: 'RESET', where: 'pin 3 of U3 and pin 1 of U2' },
  { from: 'LIGHT', to: 'LIGHT_ANODE', where: 'pin 19 of U2 and anode of D4' },
  { from: 'DEVICE_DP', to: 'DD_PLUS', where: 'pin 15 of U4 and pin 10 of U5' },
  { from: 'DEVICE_DM', to: 'DD_MINUS', where: 'pin 16 of U4 and pin 11 of U5' },
  { from: 'USB_DP', to: 'UD_PLUS', where: 'pin 3 of J2 and pin 7 of U5' },
  { from: 'USB_DM', to: 'UD_MINUS', where: 'pin 2 of J2 and pin 6 of U5' },
  { from: 'GND', to: 'USB_GND', where: 'tab of U3 and pin 4 of J2' },
];

/** Ω of what conducts both ways: fuses and clamps none. Chips, diodes and capacitors are left out. */
function resistors(circuit: Circuit): [string, string, number][] {
  return circuit.parts.flatMap((part): [string, string, number][] => {
    const on = part.pins.map((pin) => part.on[pin.number]!).filter((net) => net !== OPEN);
    if (part.kind === 'resistor') return [[on[0]!, on[1]!, part.value!]];
    if (part.kind === 'fuse') return [[on[0]!, on[1]!, 0]];
    if (part.kind === 'terminal') return on.slice(1).map((net) => [on[0]!, net, 0]);
    // A shunt's sense terminals sit on its current terminals of the same side.
    return part.kind === 'shunt'
      ? [
          [on[0]!, on[1]!, part.value!],
          [on[0]!, on[2]!, 0],
          [on[1]!, on[3]!, 0],
        ]
      : [];
  });
}

/**
 * Ω between two nets, by nodes: one ampere in at `from` and out at `to`, Kirchhoff solved by Gauss.
 * Infinity where nothing conducts. O(nets³), some 40 nets.
 */
export function resistanceBetween(circuit: Circuit, from: string, to: string): number {
  // No part of the board is near it: what is joined directly, in ohms.
  const JOINED_OHM = 1e-9;
  const edges = resistors(circuit);
  const nodes = [from];
  for (const node of nodes)
    for (const [a, b] of edges)
      for (const [near, far] of [
        [a, b],
        [b, a],
      ] as const)
        if (near === node && !nodes.includes(far)) nodes.push(far);
  if (!nodes.includes(to)) return Infinity;
  const free = nodes.filter((node) => node !== to);
  const rows = free.map((node) => [...free.map(() => 0), node === from ? 1 : 0]);
  for (const [a, b, ohm] of edges) {
    const conductance = 1 / Math.max(ohm, JOINED_OHM);
    const [i, j] = [free.indexOf(a), free.indexOf(b)];
    if (i >= 0) rows[i]![i]! += conductance;
    if (j >= 0) rows[j]![j]! += conductance;
    if (i >= 0 && j >= 0) {
      rows[i]![j]! -= conductance;
      rows[j]![i]! -= conductance;
    }
  }
  return solved(rows)[0]!;
}

/** Gauss and Jordan with the largest pivot; the last column is the right side. */
function solved(rows: number[][]): number[] {
  for (let k = 0; k < rows.length; k++) {
    const best = rows
      .slice(k)
      .reduce((most, row, i) => (Math.abs(row[k]!) > Math.abs(rows[most]![k]!) ? k + i : most), k);
    [rows[k], rows[best]] = [rows[best]!, rows[k]!];
    for (let i = 0; i < rows.length; i++) {
      const times = i === k ? 0 : rows[i]![k]! / rows[k]![k]!;
      if (times !== 0) rows[i] = rows[i]!.map((value, j) => value - times * rows[k]![j]!);
    }
  }
  return rows.map((row, k) => row.at(-1)! / row[k]!);
}

/** What a meter must show: 0 below half an ohm; nothing to be seen of an open way but what chips leak. */
export function expected(circuit: Circuit, { from, to }: Measured): string {
  const ohm = resistanceBetween(circuit, from, to);
  if (ohm === Infinity) return /^USB_/.test(to) ? 'over 10 MΩ: nothing' : 'no short: over 100 Ω, and rising';
  return ohm < 0.5 ? '0' : written(ohm, 'Ω');
}

export const ohmsTable = (circuit: Circuit): string =>
  table(
    ['between', 'that is', 'must show'],
    MEASURED.map((one) => [one.where, `${one.from}, ${one.to}`, expected(circuit, one)]),
  );

const volts = (low: number, high: number) => `${Number(low.toFixed(2))} to ${Number(high.toFixed(2))} V`;

/** Fed with 12 V that cannot give more than 100 mA: nominal draws are below the worst case of given.ts. */
export function voltsTable(): string {
  const drop_V = given.BOARD_A * given.SUPPLY_OHM;
  return table(
    ['where', 'must show', 'because'],
    [
      [
        'current from the 12 V',
        `20 to ${Math.ceil(given.BOARD_A * 1000)} mA`,
        'the worst case of all chips; more is a short',
      ],
      ['SURGE, cathode of D1', volts(12 - drop_V, 12 - drop_V / 3), 'R7 takes the rest'],
      ['5V, pin 3 of U3', volts(4.9, given.SUPPLY_MAX_V), 'U3: 2 %'],
      ['3V3, pin 17 of U4', volts(3, 3.6), 'DS_FT232R'],
      ['VDD2, pin 14 of U5', volts(3.1, 3.6), 'ADuM3160 rev. C'],
      ['SDA, SCL, RESET: pins 27, 28 and 1 of U2', 'as 5V', 'pull-ups; before the firmware is loaded'],
      ['USB cable in: USB_3V3, pin 3 of U5', volts(3.1, 3.6), 'against pin 4 of J2; the computer feeds this side'],
    ],
  );
}
