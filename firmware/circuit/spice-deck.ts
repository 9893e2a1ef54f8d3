// The circuit as a deck for ngspice: every part with its value and on its nets, as board.ts or modules.ts
// has them, and what a drawing leaves out (a fuse's cold resistance, a lead's inductance, what a chip's pin
// does beyond its limits). Node names are the nets', in small letters behind `n_`; 0 is what a case says.
import { FIVE_VOLT_A, FUSES, REGULATOR_A, VBUS_OHM } from './given.ts';
import type { Circuit, Part } from './shape.ts';

export const node = (net: string): string => `n_${net.toLowerCase()}`;

/** A straight lead in air has about 1 µH a metre (memory); each fuse has a lead of a metre behind it, F4 0.3 m. */
const LEAD_H = 1e-6;
const THICK_LEAD_H = 0.3e-6;
/** Of a bolted shunt (memory: some tens of nanohenries), taken as within what is sensed. */
const SHUNT_H = 20e-9;
/** INA238, "Electrical characteristics", of the same family: between the inputs. */
const INPUTS_OHM = 92e3;

/**
 * BAT85 and BAT46: forward as in their data sheets (most V at some mA), drawn through IS, N and RS; a test
 * holds them. SMBJ24A: 29.5 V at most at 1 mA, 38.9 V at 15.4 A. PIN: what a chip has at a pin against
 * discharges: a silicon diode to ground, and a breakdown above what it bears.
 */
export const MODELS: readonly string[] = [
  '.model BAT85 D(IS=1e-7 N=1.34 RS=3 BV=30 IBV=1e-5 CJO=12p)',
  '.model BAT46 D(IS=2.4e-7 N=1.6 RS=1.7 BV=100 IBV=1e-4 CJO=10p)',
  '.model LED D(IS=1e-18 N=1.9 RS=5 CJO=20p)',
  '.model PINDIODE D(IS=1e-14 N=1.05 RS=1 BV=95 IBV=1e-3 CJO=5p)',
  '.model ZENER D(IS=1e-12 N=1 RS=0.61 BV=29.5 IBV=1e-3 CJO=1n)',
  '.model FORWARD D(IS=1e-9 N=1.5 RS=0.03 CJO=1n)',
  '.subckt SMBJ24A a k',
  'DZ a k ZENER',
  'DF a k FORWARD',
  '.ends',
];

function diode({ ref, type, on }: Part): string {
  const ends = `${node(on['2']!)} ${node(on['1']!)}`;
  return type === 'SMBJ24A' ? `X${ref} ${ends} SMBJ24A` : `D${ref} ${ends} ${type}`;
}

function fuse({ ref, value, on }: Part): string[] {
  const { cold_Ohm } = FUSES[String(value)]!;
  return [
    `R${ref} ${node(on['1']!)} ${ref}_melt ${cold_Ohm}`,
    `L${ref} ${ref}_melt ${node(on['2']!)} ${value === 40 ? THICK_LEAD_H : LEAD_H}`,
  ];
}

/** Current terminals 1 and 2, sense terminals 3 and 4. */
const shunt = ({ ref, value, on }: Part): string[] => [
  `R${ref} ${node(on['1']!)} ${ref}_mid ${value}`,
  `L${ref} ${ref}_mid ${node(on['2']!)} ${SHUNT_H}`,
  `R${ref}_S1 ${node(on['1']!)} ${node(on['3']!)} 1m`,
  `R${ref}_S2 ${node(on['2']!)} ${node(on['4']!)} 1m`,
];

const netOf = ({ pins, on }: Part, name: string) => node(on[pins.find((pin) => pin.name === name)!.number]!);

/** A pin's own protection, its current as that of a source of 0 V: positive into the pin. */
const pin = (part: Part, name: string, label: string): string[] => {
  const at = netOf(part, name);
  return [
    `V${part.ref}_${label} ${at} ${part.ref}_${label} 0`,
    `D${part.ref}_${label} ${netOf(part, 'GND')} ${part.ref}_${label} PINDIODE`,
  ];
};

const senseChip = (part: Part): string[] => [
  `R${part.ref}_DIFF ${netOf(part, 'IN+')} ${netOf(part, 'IN-')} ${INPUTS_OHM}`,
  `R${part.ref}_BUS ${netOf(part, 'VBUS')} ${netOf(part, 'GND')} ${VBUS_OHM}`,
  ...pin(part, 'IN+', 'INP'),
  ...pin(part, 'IN-', 'INM'),
  ...pin(part, 'VBUS', 'BUS'),
];

/** Holds 5 V, takes from its input what it gives and its own; the chips and the light as one resistor. */
function regulator({ ref, on }: Part): string[] {
  const [input, ground, output] = [node(on['1']!), node(on['2']!), node(on['3']!)];
  const above = `0.5*(1+tanh((V(${input},${ground})-4)/0.3))`;
  return [
    `B${ref}_Q ${ref}_q ${ground} V=5*${above}`,
    `V${ref}_Q ${ref}_q ${ref}_r 0`,
    `R${ref}_Q ${ref}_r ${output} 0.2`,
    `B${ref}_I ${input} ${ground} I=(I(V${ref}_Q)+${REGULATOR_A})*${above}`,
    `R${ref}_LOAD ${output} ${ground} ${(5 / FIVE_VOLT_A).toPrecision(4)}`,
  ];
}

function elements(part: Part): string[] {
  const nets = Object.values(part.on).map(node);
  switch (part.kind) {
    case 'resistor':
      return [`R${part.ref} ${nets[0]} ${nets[1]} ${part.value}`];
    case 'capacitor':
      return [`C${part.ref} ${nets[0]} ${nets[1]} ${part.value}`];
    case 'diode':
      return [diode(part)];
    case 'light':
      return [`D${part.ref} ${nets[1]} ${nets[0]} LED`];
    case 'fuse':
      return fuse(part);
    case 'shunt':
      return shunt(part);
    case 'terminal':
      return nets.slice(1).map((net, i) => `R${part.ref}_${i + 1} ${nets[0]} ${net} 0.1m`);
    default:
      if (part.pins.some(({ name }) => name === 'IN+')) return senseChip(part);
      return part.type === 'TLE4264G' ? regulator(part) : [];
  }
}

/** The parts of a circuit; crystal, button, plugs and digital chips are no part of the analogue way. */
export const partsDeck = (circuit: Circuit): string[] => circuit.parts.flatMap(elements);

/** The sense chip's reference: U1 of the board, M1 of the second way. */
export const senseRef = (circuit: Circuit): string =>
  circuit.parts.find((part) => part.pins.some(({ name }) => name === 'IN+'))!.ref;
