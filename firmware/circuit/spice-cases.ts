// What happens to a board at a car, each as the surroundings of the deck of spice-deck.ts: the battery, the
// car, the accident. Node 0 is the battery's negative post, unless a case says otherwise.
import { BATTERY_MAX_V, LOAD_DUMP_HALF_S, LOAD_DUMP_V } from './given.ts';
import type { Circuit } from './shape.ts';
import { MODELS, node, partsDeck, senseRef } from './spice-deck.ts';

export interface Case {
  name: string;
  lines: readonly string[];
  /** Seconds: the step that is written, the end; from zero without a working point where `fromRest`. */
  step_s: number;
  stop_s: number;
  fromRest?: boolean;
  /** Parts that are not there: a fuse that is open. */
  without?: readonly string[];
  /** A fuse that this melts, at once or in time; none else may. */
  melts?: string;
  /** A discharge: some nanoseconds, for which other limits hold. */
  isDischarge?: boolean;
}

const PLUS = node('BATTERY_PLUS');
const MINUS = node('BATTERY_MINUS');
const CAR = node('CAR');
/** Post and clamp: a milliohm (memory). */
const ON_POST = `RPOST ${MINUS} 0 1m`;
const battery = (volts: string | number) => [`VBAT battery 0 ${volts}`, `RBAT battery ${PLUS} 0.01`];
/** So many amperes from the battery through the car into its negative cable; negative charges. */
const drawn = (amperes: string | number) => `ICAR battery ${CAR} ${amperes}`;

/** ISO 16750-2, test B, with the half time of given.ts; 12 V before it. */
const LOAD_DUMP = `EXP(12 ${LOAD_DUMP_V} 1m 2m 11m ${LOAD_DUMP_HALF_S / Math.LN2})`;

/**
 * A generator of IEC 61000-4-2: 150 pF through 330 Ω, and what the standard leaves to its maker: the
 * inductance of its return lead, and tip and hand (C, R and L of our own choice, so that the current into the
 * standard's target of 2 Ω has the standard's first peak, rise time, and values at 30 and 60 ns).
 */
export const gun = (volts: number, tip: string): string[] => [
  `CGUN gun 0 150p IC=${volts}`,
  'RGUN gun gunr 330',
  'LGUN gunr relay 1.8u',
  `CTIP tipc 0 8p IC=${volts}`,
  'RTIP tipc tipr 210',
  'LTIP tipr relay 130n',
  `VTIP relay ${tip} 0`,
];

const DISCHARGES: Case[] = [8000, -8000].flatMap((volts) =>
  [
    ['plus clamp', PLUS],
    ['car clamp', CAR],
  ].map(([where, at]): Case => ({
    name: `discharge of ${volts / 1000} kV into the ${where}`,
    // A clamp and its lead have some 20 pF to what is around them (memory).
    lines: [
      ON_POST,
      `CAROUND ${at} 0 20p`,
      ...gun(volts, at!),
      '.options abstol=1u vntol=1m chgtol=1p reltol=1e-3 method=gear',
    ],
    step_s: 0.1e-9,
    stop_s: 300e-9,
    fromRest: true,
    isDischarge: true,
  })),
);

/** Those that every pin must outlive. */
export const CASES: readonly Case[] = [
  { name: '32.7 A drawn', lines: [...battery(12.6), ON_POST, drawn(32.7)], step_s: 1e-3, stop_s: 10e-3 },
  { name: '32.7 A charged', lines: [...battery(14.4), ON_POST, drawn(-32.7)], step_s: 1e-3, stop_s: 10e-3 },
  {
    name: 'cranking, 200 A, F4 still whole',
    lines: [...battery(10), ON_POST, drawn(200)],
    step_s: 1e-3,
    stop_s: 10e-3,
  },
  {
    name: 'jump start beside it: 80 A into the battery through the body',
    lines: [...battery(14.4), ON_POST, drawn(-80)],
    step_s: 1e-3,
    stop_s: 10e-3,
  },
  {
    name: 'jump start with 24 V',
    lines: [...battery('PWL(0 12 1m 24)'), ON_POST, drawn(0.02)],
    step_s: 1e-3,
    stop_s: 50e-3,
  },
  {
    name: 'plus and minus clamp swapped, on a battery that is charged',
    lines: [`VBAT ${PLUS} 0 PWL(0 0 1u -${BATTERY_MAX_V})`, ON_POST],
    step_s: 10e-6,
    stop_s: 20e-3,
    melts: 'F1',
  },
  { name: 'load dump of 35 V', lines: [...battery(LOAD_DUMP), ON_POST, drawn(0.02)], step_s: 0.5e-3, stop_s: 0.6 },
  {
    // ISO 7637-2, pulse 1 (12 V): -150 V over 10 Ω, 1 µs, 2 ms (memory).
    name: 'an inductive load is cut off beside it',
    lines: [`VPULSE pulse 0 EXP(0 -150 0.1m 0.5u 0.102m 0.87m)`, `RPULSE pulse ${PLUS} 10`, ON_POST],
    step_s: 2e-6,
    stop_s: 5e-3,
  },
  {
    // ISO 7637-2, pulse 2a (12 V): 112 V over 2 Ω, 1 µs, 50 µs (memory); on top of 13.5 V.
    name: 'current through a harness is cut off',
    lines: [`VPULSE pulse 0 EXP(13.5 125.5 0.1m 0.5u 0.102m 22u)`, `RPULSE pulse ${PLUS} 2`, ON_POST],
    step_s: 0.2e-6,
    stop_s: 0.5e-3,
  },
  {
    // The arc between clamp and post: 50 V (memory: 13 V at least between copper, more as the gap grows).
    name: 'the minus clamp comes off: 10 A in a harness of 100 µH look for another way',
    lines: [
      ...battery(12.6),
      `LCAR ${PLUS} harness 100u`,
      `RCAR harness ${CAR} 1.2`,
      'VPOST contact 0 PWL(0 1 0.1m 1 0.101m 0)',
      `SPOST ${MINUS} 0 contact 0 CONTACT`,
      `DARC ${MINUS} arc ARC`,
      'DARC2 0 arc ARC',
      '.model CONTACT SW(VT=0.5 VH=0 RON=1m ROFF=1meg)',
      '.model ARC D(IS=1e-12 BV=50 IBV=1e-3 RS=0.1)',
    ],
    step_s: 0.2e-6,
    stop_s: 1e-3,
  },
  {
    name: 'F4 open, the generator goes on: the body 2 V below the post',
    lines: [...battery(14.4), ON_POST, `VCAR ${CAR} 0 -2`],
    step_s: 1e-3,
    stop_s: 10e-3,
    without: ['F4'],
  },
  {
    name: 'the minus clamp on the plus post, the car clamp on the body',
    lines: ['VBAT battery 0 PWL(0 0 1m 12.6)', `RBAT battery ${MINUS} 0.01`, `RCAR ${CAR} 0 1m`],
    step_s: 20e-6,
    stop_s: 20e-3,
    melts: 'F4',
  },
  {
    name: 'the bridge comes off, and on again, with 20 A',
    lines: [
      ...battery(12.6),
      ON_POST,
      drawn(20),
      'VBRIDGE bridge 0 PWL(0 1 0.1m 1 0.101m 0 2m 0 2.001m 1)',
      `SBRIDGE ${MINUS} bridged bridge 0 BRIDGE`,
      `LBRIDGE bridged ${CAR} 1u`,
      '.model BRIDGE SW(VT=0.5 VH=0 RON=1m ROFF=1k)',
    ],
    step_s: 0.2e-6,
    stop_s: 4e-3,
  },
  ...DISCHARGES,
];

/** For BOARD.md. */
export const accidentsList = (): string =>
  CASES.map(({ name, melts }) => `- ${name}${melts === undefined ? '' : `: ${melts} opens`}\n`).join('');

/** What is told of a run, in this order behind the time: volts against GND, amperes into pins and fuses. */
export const TOLD = [
  'IN+',
  'IN-',
  'VBUS',
  'VS',
  'VI',
  'into IN+',
  'into IN-',
  'into VBUS',
  'F1',
  'F2',
  'F3',
  'F4',
  'F5',
] as const;

function told(circuit: Circuit): string[] {
  const ref = senseRef(circuit).toLowerCase();
  const net = (name: string) => `v(${node(name)})-v(${node('GND')})`;
  const chip = circuit.parts.find((part) => part.ref.toLowerCase() === ref)!;
  const at = (pin: string) => net(chip.on[chip.pins.find(({ name }) => name === pin)!.number]!);
  const isOwnSupply = circuit.nets.some(({ name }) => name === 'SURGE');
  return [
    ...['IN+', 'IN-', 'VBUS', 'VS'].map(at),
    isOwnSupply ? net('SURGE') : net('5V'),
    ...['inp', 'inm', 'bus'].map((pin) => `i(v${ref}_${pin})`),
    ...['F1', 'F2', 'F3', 'F4', 'F5'].map((fuse) =>
      circuit.parts.some((part) => part.ref === fuse) ? `i(l${fuse.toLowerCase()})` : '0*time',
    ),
  ];
}

/** The computer feeds the second way, through an isolator. */
const fedByComputer = (circuit: Circuit) =>
  circuit.nets.some(({ name }) => name === 'CABLE') ? [`VUSB ${node('5V')} ${node('GND')} 5`] : [];

/** A deck that runs by itself in batch, and writes what is told into `out`. */
export function caseDeck(
  whole: Circuit,
  { name, lines, step_s, stop_s, fromRest, without }: Case,
  out: string,
): string {
  const parts = whole.parts.filter((part) => without?.includes(part.ref) !== true);
  const circuit = { ...whole, parts };
  const vectors = told(circuit);
  return [
    `* nightdraw, ${circuit.name}: ${name}`,
    '.options rshunt=1e9',
    ...MODELS,
    ...partsDeck(circuit),
    ...fedByComputer(circuit),
    ...lines,
    '.control',
    `tran ${step_s} ${stop_s} 0 ${step_s}${fromRest === true ? ' uic' : ''}`,
    ...vectors.map((vector, i) => `let told${i} = ${vector}`),
    'set wr_singlescale',
    `wrdata ${out} ${vectors.map((_, i) => `told${i}`).join(' ')}`,
    'quit',
    '.endc',
    '.end',
    '',
  ].join('\n');
}
