// What may be wrong with a circuit, found before it is built: pins, ratings, fuses, isolation, bus.
// Each check returns its complaints, one sentence each; none means sound.
import { carriedBy_A, checkSense, checkTraces } from './copper.ts';
import { BATTERY_MIN_V, BATTERY_SHORT_A, FUSE_HOLDS_TIMES, FUSE_OPENS, SUPPLY_MAX_V, SWAPPED_V } from './given.ts';
import { OPEN, connections } from './shape.ts';
import type { Carrier, Circuit, Net, Part, Ratings } from './shape.ts';
import { MARGINS, worstOf } from './worst-cases.ts';

/** Every pin is on a net that is told of, or open and said to be; no net ends nowhere. */
function checkPins(circuit: Circuit): string[] {
  const bad: string[] = [];
  const names = new Set(circuit.nets.map((net) => net.name));
  const refs = circuit.parts.map((part) => part.ref);
  for (const ref of new Set(refs.filter((one, i) => refs.indexOf(one) !== i))) bad.push(`${ref} is there twice`);
  for (const part of circuit.parts) {
    for (const pin of part.pins) {
      const net = part.on[pin.number];
      if (net === undefined) bad.push(`${part.ref}.${pin.number} (${pin.name}) is on no net and not said to be open`);
      else if (net !== OPEN && !names.has(net))
        bad.push(`${part.ref}.${pin.number} is on ${net}, which nobody tells of`);
    }
    const numbers = new Set(part.pins.map((pin) => pin.number));
    for (const number of Object.keys(part.on)) if (!numbers.has(number)) bad.push(`${part.ref} has no pin ${number}`);
  }
  for (const { name } of circuit.nets) {
    const found = connections(circuit, name).length;
    if (found < 2) bad.push(`${name} joins ${found} pin`);
  }
  return bad;
}

/** Two outputs that push against each other; a supply pin that nothing feeds. */
function checkDrivers(circuit: Circuit): string[] {
  return circuit.nets.flatMap(({ name }) => {
    const ends = connections(circuit, name);
    const pushing = ends.filter(({ pin }) => pin.role === 'output' || pin.role === 'supply out');
    const said = pushing.map(({ part, pin }) => `${part.ref}.${pin.name}`).join(', ');
    if (pushing.length > 1) return [`${name} has more than one output: ${said}`];
    const isFed = pushing.length > 0 || ends.some(({ pin }) => pin.role === 'passive');
    const hungry = ends.filter(({ pin }) => pin.role === 'supply in');
    return isFed ? [] : hungry.map(({ part, pin }) => `nothing feeds ${part.ref}.${pin.name} on ${name}`);
  });
}

/** Every rating leaves its margin above a worst case that somebody derived. */
function checkRatings(circuit: Circuit): string[] {
  return circuit.parts.flatMap((part) =>
    (Object.keys(part.ratings) as (keyof Ratings)[]).flatMap((rating) => {
      const limit = part.ratings[rating]!;
      const worst = worstOf(circuit, part, rating);
      if (worst === null) return [`${part.ref}: nobody has derived the worst case of its ${rating}`];
      const least = worst.size * MARGINS[rating];
      return limit >= least
        ? []
        : [
            `${part.ref} bears ${rating} ${limit}, and needs ${least.toPrecision(3)}: ${worst.because}, ${MARGINS[rating]} times`,
          ];
    }),
  );
}

/**
 * DIN VDE 0298-4, single flexible lead in air, A by mm² (memory); IPC-2221, 35 µm copper outside, 20 K
 * warmer (copper.ts).
 */
const LEADS: Readonly<Record<string, number>> = {
  '0.75': 15,
  '1': 19,
  '1.5': 24,
  '2.5': 32,
  '4': 42,
  '6': 54,
  '10': 73,
};
export function carries_A(carrier: Carrier): number {
  // A USB cable is made for what a port gives before it ends an overcurrent (USB 2.0, 7.2.1.2.1).
  if ('cable' in carrier) return 5;
  if ('lead_mm2' in carrier) return LEADS[String(carrier.lead_mm2)] ?? 0;
  return carriedBy_A(carrier.trace_mm, 20);
}

/** Nets that a current can come to from `from` without passing one of `fuses`; ground leads no further. */
function reached(circuit: Circuit, from: readonly string[], fuses: readonly string[]): Set<string> {
  const seen = new Set(from);
  for (let grew = true; grew;) {
    grew = false;
    for (const part of circuit.parts) {
      if (fuses.includes(part.ref)) continue;
      const nets = Object.values(part.on).filter((name) => name !== OPEN);
      if (!nets.some((name) => seen.has(name) && name !== circuit.ground)) continue;
      for (const name of nets) if (!seen.has(name)) grew = seen.add(name) !== undefined;
    }
  }
  return seen;
}

/** A short anywhere ends in a fuse before a lead or a trace burns. */
function checkFuses(circuit: Circuit): string[] {
  const bad: string[] = [];
  const fuses = circuit.parts.filter((part) => part.kind === 'fuse');
  const bare = reached(
    circuit,
    circuit.sources,
    fuses.map((part) => part.ref),
  );
  for (const { name } of circuit.nets)
    if (bare.has(name) && !circuit.sources.includes(name))
      bad.push(`${name} can be reached from a battery past every fuse`);
  for (const net of circuit.nets) bad.push(...checkNet(circuit, net, fuses));
  return bad;
}

function checkNet(circuit: Circuit, net: Net, fuses: Part[]): string[] {
  const limit = net.limitedBy;
  const bad: string[] = [];
  let most_A = 'current_A' in limit ? limit.current_A : 0;
  if ('fuses' in limit) {
    for (const ref of limit.fuses) {
      const fuse = fuses.find((part) => part.ref === ref);
      if (fuse === undefined) bad.push(`${net.name} relies on ${ref}, which is no fuse of this circuit`);
      else most_A += FUSE_HOLDS_TIMES * fuse.value!;
    }
  }
  // A source's own metal, up to its fuse, is a clamp and some centimetres: only the thick path is held to this.
  const isStub = circuit.sources.includes(net.name) && !('lead_mm2' in net.carrier && net.carrier.lead_mm2 >= 6);
  const bears_A = carries_A(net.carrier);
  const needs_A = isStub ? net.current_A : Math.max(most_A, net.current_A);
  if (bears_A < needs_A)
    bad.push(
      `${net.name} carries ${bears_A.toPrecision(3)} A, and ${needs_A.toPrecision(3)} A may flow before anything ends it`,
    );
  return bad;
}

/** A short behind a fuse is enough to open it; `behind_ohm` is what lies between by design. */
function checkOpening(circuit: Circuit): string[] {
  return circuit.parts
    .filter((part) => part.kind === 'fuse')
    .flatMap((fuse) => {
      const resistor = circuit.parts.find(
        (part) =>
          part.kind === 'resistor' &&
          part.on['1'] === fuse.on['2'] &&
          fuse.ref === 'F1' &&
          // Behind some a short may last: the resistor itself limits it.
          circuit.nets.some((net) => net.name === part.on['2'] && 'fuses' in net.limitedBy),
      );
      const behind_ohm = resistor?.value ?? 0;
      const short_A = behind_ohm === 0 ? BATTERY_SHORT_A : (BATTERY_MIN_V - SWAPPED_V) / behind_ohm;
      const needs_A = FUSE_OPENS.times * fuse.value!;
      return short_A >= needs_A
        ? []
        : [
            `a short behind ${resistor?.ref} is ${short_A.toPrecision(3)} A, and ${fuse.ref} needs ${needs_A.toPrecision(3)} A to open`,
          ];
    });
}

/** Only the isolator has pins on both sides. Nets of the computer's side begin with USB_ or UD_. */
function checkIsolation(circuit: Circuit): string[] {
  const isOutside = (name: string) => /^(USB|UD)_/.test(name);
  return circuit.parts.flatMap((part) => {
    const nets = Object.values(part.on).filter((name) => name !== OPEN);
    const crosses = nets.some(isOutside) && !nets.every(isOutside);
    return crosses && !/ADuM3160/.test(part.type ?? '')
      ? [`${part.ref} joins the computer's side with the board's`]
      : [];
  });
}

/** Some cm of board and three pins, or 20 cm of leads (memory). */
const BUS_F = 100e-12;
/** I2C specification UM10204, fast mode: rises within 300 ns (0.8473 R C), and 3 mA are pulled down at most. */
function checkBus(circuit: Circuit): string[] {
  return ['SDA', 'SCL'].flatMap((name) => {
    const pull = connections(circuit, name).find(({ part }) => part.kind === 'resistor')?.part.value ?? Infinity;
    const rise_ns = 0.8473 * pull * BUS_F * 1e9;
    const sunk_mA = (SUPPLY_MAX_V / pull) * 1e3;
    return [
      ...(rise_ns > 300 ? [`${name} takes ${rise_ns.toPrecision(3)} ns to rise, 300 ns are allowed`] : []),
      ...(sunk_mA > 3 ? [`${name} has ${sunk_mA.toPrecision(3)} mA to pull down, 3 mA are allowed`] : []),
    ];
  });
}

export const checkAll = (circuit: Circuit): string[] => [
  ...checkPins(circuit),
  ...checkDrivers(circuit),
  ...checkRatings(circuit),
  ...checkFuses(circuit),
  ...checkOpening(circuit),
  ...checkIsolation(circuit),
  ...checkBus(circuit),
  ...checkTraces(circuit),
  ...checkSense(circuit),
];
