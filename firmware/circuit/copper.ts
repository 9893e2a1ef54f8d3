// The layout's rules as numbers, before there is a layout: how wide a trace must be, how warm it gets,
// which of trace and fuse gives way first, how far nets keep from each other, and what shared copper does to a
// four-terminal shunt. Sources beside each; where only a calculator or a list post had the table, that is named.
import { FUSES, FUSE_HOLDS_TIMES, LOAD_DUMP_V, SHUNT_OHM } from './given.ts';
import type { Circuit, Net } from './shape.ts';

/** 35 µm: one ounce of copper to the square foot. */
export const COPPER_UM = 35;
const MIL_MM = 0.0254;
/** A circular mil is the area of a round wire of one mil. */
const CIRCULAR_MILS_PER_MIL2 = 4 / Math.PI;
const area_mil2 = (width_mm: number, copper_um: number) => (width_mm / MIL_MM) * (copper_um / 1000 / MIL_MM);

/**
 * IPC-2221, traces on the outside: I = 0.048 x K^0.44 x (mil²)^0.725. As KiCad's calculator says, it is good
 * up to 35 A, 100 K and 10 mm; what lies beyond is no more than an order of size. IPC-2152: no source at hand.
 */
const [K, OF_RISE, OF_AREA] = [0.048, 0.44, 0.725];
export const IPC_2221_MOST = { width_mm: 10, current_A: 35, rise_K: 100 };

export const carriedBy_A = (width_mm: number, rise_K: number, copper_um = COPPER_UM): number =>
  K * rise_K ** OF_RISE * area_mil2(width_mm, copper_um) ** OF_AREA;

export const widthFor_mm = (current_A: number, rise_K: number, copper_um = COPPER_UM): number =>
  ((current_A / (K * rise_K ** OF_RISE)) ** (1 / OF_AREA) / (copper_um / 1000 / MIL_MM)) * MIL_MM;

export const riseOf_K = (current_A: number, width_mm: number, copper_um = COPPER_UM): number =>
  (current_A / (K * area_mil2(width_mm, copper_um) ** OF_AREA)) ** (1 / OF_RISE);

/** Copper melts at 1083 °C; the board's resin softens from some 130 °C on (FR-4 of the plainest kind; memory). */
export const MELTS_C = 1083;
export const SOFTENS_C = 130;
const AROUND_C = 40;

/**
 * A²s that warm a trace up to a temperature when no heat leaves it: Onderdonk's equation,
 * I = A √(log10(1 + (T - T0) / (234 + T0)) / (33 t)), A in circular mils.
 */
export function warming_A2s(width_mm: number, to_C: number, from_C = AROUND_C, copper_um = COPPER_UM): number {
  const area_cmil = area_mil2(width_mm, copper_um) * CIRCULAR_MILS_PER_MIL2;
  return (area_cmil ** 2 * Math.log10(1 + (to_C - from_C) / (234 + from_C))) / 33;
}

/** A fuse lets through more than melts it, until its arc is out: no more than three times (memory). */
const THROUGH_TIMES = 3;

/** Nets whose trace would suffer before their fuse has ended a short; none means sound. */
export function checkTraces(circuit: Circuit): string[] {
  return circuit.nets.flatMap((net) =>
    'trace_mm' in net.carrier ? checkTrace(circuit, net, net.carrier.trace_mm) : [],
  );
}

function checkTrace(circuit: Circuit, net: Net, width_mm: number): string[] {
  if (!('fuses' in net.limitedBy)) return [];
  return net.limitedBy.fuses.flatMap((ref) => {
    const ampere = circuit.parts.find((part) => part.ref === ref)!.value!;
    const through_A2s = THROUGH_TIMES * FUSES[String(ampere)]!.melts_A2s;
    const bears_A2s = warming_A2s(width_mm, SOFTENS_C);
    const rise_K = riseOf_K(FUSE_HOLDS_TIMES * ampere, width_mm);
    return [
      ...(bears_A2s >= through_A2s
        ? []
        : [
            `${net.name} bears ${bears_A2s.toPrecision(2)} A²s, and ${ref} lets ${through_A2s.toPrecision(2)} A²s through`,
          ]),
      ...(rise_K <= 20 ? [] : [`${net.name} gets ${rise_K.toPrecision(2)} K warmer before ${ref} opens`]),
    ];
  });
}

/**
 * Least distance of traces on the outside, mm, up to so many volts: IPC-D-275, the table's columns B2 (bare) and
 * B4 (under solder mask), from a designers' list of 2002; IPC-2221, that came after, asks less below 30 V.
 */
const DISTANCES: readonly { volts: number; bare_mm: number; covered_mm: number }[] = [
  { volts: 100, bare_mm: 0.64, covered_mm: 0.13 },
  { volts: 150, bare_mm: 0.64, covered_mm: 0.38 },
  { volts: 300, bare_mm: 1.27, covered_mm: 0.38 },
  { volts: 500, bare_mm: 2.54, covered_mm: 0.75 },
];
/** @throws RangeError beyond what the table has */
export function distances(volts: number): { bare_mm: number; covered_mm: number } {
  const row = DISTANCES.find((one) => volts <= one.volts);
  if (row === undefined) throw new RangeError(`no distance is known for ${volts} V`);
  return row;
}

/** Between the computer's side and the car's: what U5's own package keeps (ADuM4160 of the same package, rev. D). */
export const ISOLATION_MM = 8;

/** Copper at 20 °C. */
const COPPER_OHM_M = 1.72e-8;
/** Share that a reading is off by, when so much of the current's own copper lies between the sense terminals. */
export const sharedCopper = (length_mm: number, width_mm: number, copper_um = COPPER_UM): number =>
  (COPPER_OHM_M * length_mm) / (width_mm * copper_um * 1e-6) / SHUNT_OHM;

/** A sense net joins the shunt's sense terminal and one fuse, no more: nothing that carries a current of its own. */
export function checkSense(circuit: Circuit): string[] {
  return ['SENSE_BATTERY', 'SENSE_CAR'].flatMap((name) => {
    const ends = circuit.parts.flatMap((part) =>
      part.pins.filter((pin) => part.on[pin.number] === name).map((pin) => ({ part, pin })),
    );
    const bad = ends.filter(
      ({ part, pin }) => !(part.kind === 'fuse' || (part.kind === 'shunt' && pin.name.startsWith('S '))),
    );
    return [
      ...bad.map(({ part }) => `${part.ref} is on ${name}, which is for sensing alone`),
      ...(ends.length === 2 ? [] : [`${name} joins ${ends.length} pins, not two`]),
    ];
  });
}

const two = (value: number) => String(Number(value.toPrecision(2)));

/** For BOARD.md. */
export function layoutRules(): string {
  const wide_mm = widthFor_mm(30, 20);
  const { bare_mm, covered_mm } = distances(LOAD_DUMP_V);
  return [
    `- **The current of the car stays off the board.** 30 A and 20 K more would need ${two(wide_mm)} mm of 35 µm copper, ${two(widthFor_mm(30, 20, 70))} mm of 70 µm (IPC-2221, which is good up to ${IPC_2221_MOST.width_mm} mm): it goes through leads of 6 mm², F4 and a bolted R1.`,
    `- **Four terminals.** A millimetre of copper, 10 mm wide, that current and sensing share is ${two(sharedCopper(1, 10) * 100)} % of R1, and changes by 0.4 % of that a kelvin. Sense leads go to R1's own sense terminals, side by side up to R5 and R6, and nothing else is joined to them.`,
    `- **Fuse before trace.** 0.3 mm of 35 µm are at ${SOFTENS_C} °C after ${two(warming_A2s(0.3, SOFTENS_C))} A²s and melt after ${two(warming_A2s(0.3, MELTS_C))} A²s (Onderdonk); F1, F2 and F3 melt after ${two(FUSES['0.5']!.melts_A2s)} A²s, F5 after ${two(FUSES['1']!.melts_A2s)} A²s, behind which the trace is 1 mm wide.`,
    `- **Distances.** BATTERY_PLUS, SUPPLY, SURGE and VBUS to all others: ${bare_mm} mm bare, ${covered_mm} mm under solder mask, as between the pins of U1 (IPC-D-275); ${ISOLATION_MM} mm without any copper, on both sides, between the nets of the computer (USB_, UD_) and all others.`,
    '',
  ].join('\n');
}
