// How a part and a net are written down: what all resistors, capacitors, fuses and so on of the
// circuits have alike.
import { OPEN, passive } from './shape.ts';
import type { Carrier, Net, Part, Ratings } from './shape.ts';

export function resistor(
  ref: string,
  ohm: number,
  ends: [string, string],
  why: string,
  more: Partial<Part> = {},
): Part {
  return {
    ref,
    kind: 'resistor',
    value: ohm,
    unit: 'Ω',
    tolerance_pct: 1,
    ratings: { power_W: 0.25 },
    package: '1206, or axial 0207',
    why,
    pins: passive('1', '2'),
    on: { '1': ends[0], '2': ends[1] },
    ...more,
  };
}

export function capacitor(ref: string, farad: number, voltage_V: number, ends: [string, string], why: string): Part {
  const isLarge = farad >= 1e-6;
  return {
    ref,
    kind: 'capacitor',
    value: farad,
    unit: 'F',
    tolerance_pct: farad < 1e-9 ? 5 : 20,
    also: farad < 1e-9 ? 'ceramic, C0G' : isLarge ? 'electrolytic, ESR 10 Ω or less' : 'ceramic, X7R',
    ratings: { voltage_V },
    package: isLarge ? 'radial' : '0805, or 5 mm pitch',
    why,
    pins: passive('+', '-'),
    on: { '1': ends[0], '2': ends[1] },
  };
}

export function fuse(ref: string, ampere: number, ends: [string, string], why: string, bolted = false): Part {
  return {
    ref,
    kind: 'fuse',
    value: ampere,
    unit: 'A',
    also: bolted ? 'bolted, 32 V' : 'quick-acting, ceramic, high breaking capacity',
    ratings: { current_A: ampere, voltage_V: bolted ? 32 : 250, breaking_A: bolted ? 2000 : 1500 },
    package: bolted ? 'bolted, with its holder' : '5 x 20 mm in a closed in-line holder',
    why,
    pins: passive('1', '2'),
    on: { '1': ends[0], '2': ends[1] },
  };
}

export function diode(ref: string, type: string, ratings: Ratings, ends: [string, string], why: string): Part {
  return {
    ref,
    kind: 'diode',
    type,
    ratings,
    package: type === 'SMBJ24A' ? 'SMB' : 'DO-35',
    why,
    pins: passive('K', 'A'),
    on: { '1': ends[0], '2': ends[1] },
  };
}

export function terminal(ref: string, type: string, current_A: number, nets: string[], why: string): Part {
  return {
    ref,
    kind: 'terminal',
    type,
    ratings: { current_A },
    package: 'clamp',
    why,
    pins: passive(...nets.map((_, i) => String(i + 1))),
    on: Object.fromEntries(nets.map((net, i) => [String(i + 1), net])),
  };
}

/** A chip; pins of `open` are meant to stay open. */
export function chip(
  about: Pick<Part, 'ref' | 'type' | 'ratings' | 'package' | 'why' | 'pins'>,
  on: Record<string, string>,
  open: string[],
): Part {
  return { kind: 'chip', ...about, on: { ...on, ...Object.fromEntries(open.map((pin) => [pin, OPEN])) } };
}

/** Narrow, for what carries little. */
const TRACE: Carrier = { trace_mm: 0.3 };

export const net = (
  name: string,
  voltage_V: number,
  current_A: number,
  because: string,
  limitedBy: Net['limitedBy'],
  carrier: Carrier = TRACE,
): Net => ({ name, voltage_V, current_A, because, limitedBy, carrier });
