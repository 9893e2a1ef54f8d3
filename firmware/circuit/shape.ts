// What a circuit is made of: parts with their pins, nets with what they must bear. One circuit
// is one value of `Circuit` (board.ts, modules.ts); lists, netlist, schematic and drawing are made
// of it, and checks.ts finds what is wrong with it.

/** What a pin does, as an electrical rule check needs to know it. */
export type PinRole = 'input' | 'output' | 'both' | 'passive' | 'supply in' | 'supply out' | 'pulls low';

export interface Pin {
  number: string;
  name: string;
  role: PinRole;
}

/** What a part bears. Every one that is given is held against a worst case (worst-cases.ts). */
export interface Ratings {
  voltage_V?: number;
  current_A?: number;
  power_W?: number;
  /** A resistor that takes a pulse, once. */
  energy_J?: number;
  /** The highest supply that the data sheet recommends. */
  supply_V?: number;
  /** The largest current that a fuse ends safely. */
  breaking_A?: number;
}

export type Unit = 'Ω' | 'F' | 'Hz' | 'A' | 'V' | '';

export interface Part {
  /** R5, U1: as in BOARD.md and on the drawings. */
  ref: string;
  kind:
    | 'resistor'
    | 'shunt'
    | 'capacitor'
    | 'diode'
    | 'fuse'
    | 'chip'
    | 'module'
    | 'crystal'
    | 'button'
    | 'light'
    | 'terminal'
    | 'connector';
  /** In the unit, without a prefix: 2200 for 2.2 kΩ. Left out where `type` says it all. */
  value?: number;
  unit?: Unit;
  /** A chip's or diode's name, or words where there is no number. */
  type?: string;
  tolerance_pct?: number;
  /** Further demands in words, as an order needs them. */
  also?: string;
  ratings: Ratings;
  package: string;
  why: string;
  pins: readonly Pin[];
  /** Pin number -> net; `OPEN` where a pin is meant to stay open. */
  on: Readonly<Record<string, string>>;
}

/** In place of a net: this pin stays open, and that is meant. */
export const OPEN = 'open';

/** What carries a net: a lead of so much copper, or a trace of 35 µm copper on the outside. */
export type Carrier = { lead_mm2: number } | { trace_mm: number } | { cable: 'USB' };

export interface Net {
  name: string;
  /** Against the board's ground (USB_ nets: against the computer's), the largest size, and the largest current. */
  voltage_V: number;
  current_A: number;
  /** Where both numbers come from. */
  because: string;
  carrier: Carrier;
  /** What ends a short on this net: fuses, or what limits it by itself. */
  limitedBy: { fuses: readonly string[] } | { words: string; current_A: number };
}

export interface Circuit {
  name: string;
  parts: readonly Part[];
  nets: readonly Net[];
  /** Nets that a battery feeds with hundreds of amperes: only fuses, the shunt and clamps may sit on them. */
  sources: readonly string[];
  ground: string;
}

const PREFIXES: readonly (readonly [number, string])[] = [
  [1e6, 'M'],
  [1e3, 'k'],
  [1, ''],
  [1e-3, 'm'],
  [1e-6, 'µ'],
  [1e-9, 'n'],
  [1e-12, 'p'],
];

/** 2200 Ω -> `2.2 kΩ`, 1e-7 F -> `100 nF`: three digits at most, as parts are sold. */
export function written(value: number, unit: Unit): string {
  const [size, prefix] = PREFIXES.find(([least]) => Math.abs(value) >= least * 0.9995) ?? [1, ''];
  return `${Number((value / size).toPrecision(3))} ${prefix}${unit}`;
}

/** What is written on the part: its value, or its type, or both. */
export function valueOf({ value, unit, type }: Part): string {
  const number = value === undefined ? '' : written(value, unit ?? '');
  return [type ?? '', number].filter((word) => word !== '').join(', ');
}

/** The pins of a part without a direction: 1 and 2, or as named. */
export const passive = (...names: string[]): Pin[] =>
  names.map((name, i) => ({ number: String(i + 1), name, role: 'passive' }));

/** Every connection of a net, `R5.2` for pin 2 of R5, in the order of the parts. */
export function connections(circuit: Circuit, net: string): { part: Part; pin: Pin }[] {
  return circuit.parts.flatMap((part) =>
    part.pins.filter((pin) => part.on[pin.number] === net).map((pin) => ({ part, pin })),
  );
}
