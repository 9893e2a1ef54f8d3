// What a board house gets, read as it reads it: the pins on the plotted copper and their nets (Gerber X2
// attributes .P and .N, Ucamco "The Gerber Layer Format Specification", 2023.03, 5.6) are the circuit's, every
// hole of the board is drilled where it lies, and the outline is that of the placement.
import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { BOARD } from '../../../firmware/circuit/board.ts';
import { isOutside, SIZE, WIRES } from '../../../firmware/circuit/placement.ts';
import { OPEN } from '../../../firmware/circuit/shape.ts';

const file = (name: string) => readFileSync(new URL(`../../../firmware/circuit/${name}`, import.meta.url), 'utf8');

/** `part.pin net` of each flash on a copper layer. */
function flashes(gerber: string): Set<string> {
  const found = new Set<string>();
  let [pin, net] = ['', ''];
  for (const line of gerber.split('\n')) {
    const attribute = /^%TO\.([PN]),(.*)\*%$/.exec(line);
    if (attribute?.[1] === 'P') pin = attribute[2]!.split(',').slice(0, 2).join('.');
    else if (attribute?.[1] === 'N') net = attribute[2]!;
    else if (/^%TD(\.[PN])?\*%$/.test(line)) [pin, net] = ['', line === '%TD.P*%' ? net : ''];
    else if (/D03\*$/.test(line) && pin !== '') found.add(`${pin} ${net}`);
  }
  return found;
}

test('the plotted pins and their nets are those of the circuit', () => {
  const plotted = flashes(file('plots/nightdraw-F_Cu.gtl'));
  const wanted = [
    ...BOARD.parts
      .filter((part) => !isOutside(part))
      .flatMap((part) =>
        Object.entries(part.on).flatMap(([pin, net]) => (net === OPEN ? [] : [`${part.ref}.${pin} ${net}`])),
      ),
    ...WIRES.map(({ ref, net }) => `${ref}.1 ${net}`),
  ];
  expect(wanted.length).toBeGreaterThan(100);
  expect(wanted.filter((one) => !plotted.has(one))).toEqual([]);
  const known = new Set(wanted);
  // What is left over are pins that nothing is joined to.
  const open = [...plotted].filter((one) => !known.has(one));
  for (const one of open) {
    const [ref, pin] = one.split(' ')[0]!.split('.');
    expect([one, BOARD.parts.find((part) => part.ref === ref)?.on[pin!]]).toEqual([one, OPEN]);
  }
});

test('each hole is drilled once, with its diameter, where the board has it', () => {
  const tools = new Map<string, number>();
  const drilled: string[] = [];
  let size = 0;
  for (const line of file('plots/nightdraw.drl').split('\n')) {
    const tool = /^T(\d+)C([\d.]+)$/.exec(line);
    const chosen = /^T(\d+)$/.exec(line);
    const at = /^X(-?[\d.]+)Y(-?[\d.]+)$/.exec(line);
    if (tool !== null) tools.set(tool[1]!, Number(tool[2]));
    else if (chosen !== null) size = tools.get(chosen[1]!) ?? 0;
    else if (at !== null) drilled.push(`${size} ${Number(at[1])} ${-Number(at[2])}`);
  }
  const board = file('board.kicad_pcb');
  const vias = [...board.matchAll(/\(via \(at ([\d.]+) ([\d.]+)\) \(size [\d.]+\) \(drill ([\d.]+)\)/g)].map(
    ([, x, y, drill]) => `${Number(drill)} ${Number(x)} ${Number(y)}`,
  );
  expect(vias.length).toBeGreaterThan(10);
  expect(vias.filter((via) => !drilled.includes(via))).toEqual([]);
  expect(drilled).toHaveLength(board.match(/\(drill /g)!.length);
  expect(new Set(drilled).size).toBe(drilled.length);
});

test('the outline has the size of the board', () => {
  const at = [...file('plots/nightdraw-Edge_Cuts.gm1').matchAll(/^X(-?\d+)Y(-?\d+)D0[12]\*$/gm)];
  const span_mm = (axis: 1 | 2) => {
    const all = at.map((one) => Number(one[axis]));
    return (Math.max(...all) - Math.min(...all)) / 1e6;
  };
  expect([span_mm(1), span_mm(2)]).toEqual([SIZE.width, SIZE.height]);
});
