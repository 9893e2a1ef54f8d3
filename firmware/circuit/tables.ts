// The circuit as lists: parts and netlist as CSV, and the tables of BOARD.md and CIRCUIT.md.
import { carries_A } from './checks.ts';
import { OPEN, connections, valueOf, written } from './shape.ts';
import type { Carrier, Circuit, Net, Part, Ratings, Unit } from './shape.ts';
import { MARGINS, NOT_BORNE, worstOf } from './worst-cases.ts';

const WORDS: Readonly<Record<keyof Ratings, [string, Unit | 'W' | 'J']>> = {
  voltage_V: ['', 'V'],
  current_A: ['', 'A'],
  power_W: ['', 'W'],
  energy_J: ['pulse', 'J'],
  supply_V: ['supply', 'V'],
  breaking_A: ['ends', 'A'],
};

/** `3 W, pulse 150 J`. */
function bears(part: Part): string {
  return (Object.keys(part.ratings) as (keyof Ratings)[])
    .map((rating) => `${WORDS[rating][0]} ${size(rating, part.ratings[rating]!)}`.trim())
    .join(', ');
}

const size = (rating: keyof Ratings, value: number) => written(value, WORDS[rating][1] as Unit);

/** Parts that are bought as one line: all but the place is the same. */
function lines(circuit: Circuit): Part[][] {
  const same = new Map<string, Part[]>();
  for (const part of circuit.parts) {
    const key = [part.kind, valueOf(part), part.tolerance_pct, part.also, bears(part), part.package].join('|');
    same.set(key, [...(same.get(key) ?? []), part]);
  }
  return [...same.values()];
}

const csv = (rows: readonly (readonly string[])[]) =>
  rows
    .map((row) => row.map((cell) => (/[",\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell)).join(',') + '\n')
    .join('');

const tolerance = ({ tolerance_pct }: Part) => (tolerance_pct === undefined ? '' : `${tolerance_pct} %`);

/** One line for each thing to order. */
export function partsCsv(circuit: Circuit): string {
  const head = ['parts', 'number', 'kind', 'value', 'tolerance', 'bears', 'also', 'package'];
  const rows = lines(circuit).map((parts) => {
    const one = parts[0]!;
    const refs = parts.map((part) => part.ref).join(' ');
    return [
      refs,
      String(parts.length),
      one.kind,
      valueOf(one),
      tolerance(one),
      bears(one),
      one.also ?? '',
      one.package,
    ];
  });
  return csv([head, ...rows]);
}

/** One line for each pin: what it is on. */
export function netlistCsv(circuit: Circuit): string {
  const rows = circuit.nets.flatMap((net) =>
    connections(circuit, net.name).map(({ part, pin }) => [net.name, part.ref, pin.number, pin.name]),
  );
  const open = connections(circuit, OPEN).map(({ part, pin }) => ['(open)', part.ref, pin.number, pin.name]);
  return csv([['net', 'part', 'pin', 'name'], ...rows, ...open]);
}

/** In Markdown. */
export const table = (head: string[], rows: string[][]) =>
  [head, head.map(() => '---'), ...rows].map((row) => `| ${row.join(' | ')} |\n`).join('');

export function partsTable(circuit: Circuit): string {
  const rows = lines(circuit).map((parts) => {
    const one = parts[0]!;
    const value = [valueOf(one), tolerance(one), one.also ?? ''].filter((word) => word !== '').join('; ');
    const why = [...new Set(parts.map((part) => part.why).filter((words) => !/^the same/.test(words)))].join('; ');
    return [parts.map((part) => part.ref).join(', '), value, bears(one), one.package, why];
  });
  return table(['part', 'value', 'bears', 'package', 'why'], rows);
}

/** The pins of one chip, and what each is joined to. */
export function pinsTable(circuit: Circuit, ref: string): string {
  const chip = circuit.parts.find((part) => part.ref === ref)!;
  const used = chip.pins.filter((pin) => pin.role !== 'supply in' && chip.on[pin.number] !== OPEN);
  const open = chip.pins.filter((pin) => chip.on[pin.number] === OPEN).map((pin) => pin.name);
  const rows = used.map((pin) => [
    pin.name,
    pin.number,
    chip.on[pin.number]!,
    others(circuit, chip.on[pin.number]!, chip),
  ]);
  return `${table(['pin', 'number', 'net', 'goes to'], rows)}\nOpen, and meant to be: ${open.join(', ')}.\n`;
}

const others = (circuit: Circuit, net: string, but: Part) =>
  connections(circuit, net)
    .filter(({ part }) => part !== but)
    .map(({ part, pin }) => (part.kind === 'chip' || part.kind === 'module' ? `${pin.name} of ${part.ref}` : part.ref))
    .join(', ');

export function carrier(one: Carrier): string {
  if ('cable' in one) return 'USB cable';
  return 'lead_mm2' in one ? `${one.lead_mm2} mm²` : `trace of ${one.trace_mm} mm`;
}

const ended = ({ limitedBy }: Net) =>
  'fuses' in limitedBy ? limitedBy.fuses.join(' and ') : `${limitedBy.words}, ${written(limitedBy.current_A, 'A')}`;

export function netsTable(circuit: Circuit): string {
  const rows = circuit.nets.map((net) => [
    net.name,
    written(net.voltage_V, 'V'),
    written(net.current_A, 'A'),
    net.because,
    `${carrier(net.carrier)}: ${written(carries_A(net.carrier), 'A')}`,
    ended(net),
  ]);
  return table(['net', 'V at most', 'A at most', 'because', 'carried by', 'a short ends by'], rows);
}

export function ratingsTable(circuit: Circuit): string {
  const rows = circuit.parts.flatMap((part) =>
    (Object.keys(part.ratings) as (keyof Ratings)[]).map((rating) => {
      const worst = worstOf(circuit, part, rating)!;
      const bearsIt = part.ratings[rating]!;
      const times = worst.size === 0 ? '' : `${Number((bearsIt / worst.size).toPrecision(2))} of ${MARGINS[rating]}`;
      return [
        part.ref,
        `${WORDS[rating][0]} ${size(rating, bearsIt)}`.trim(),
        size(rating, worst.size),
        times,
        worst.because,
      ];
    }),
  );
  return table(['part', 'bears', 'worst case', 'times, of those asked', 'because'], rows);
}

export const notBorne = (): string =>
  NOT_BORNE.map(({ what, comes, ends }) => `- ${what}: ${comes}. ${ends}.\n`).join('');
