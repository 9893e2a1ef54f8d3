// The KiCad schematic, read back by its geometry, without the code that wrote it: what its wires and
// labels join is the circuit.
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { BOARD } from '../../../firmware/circuit/board.ts';
import { OPEN } from '../../../firmware/circuit/shape.ts';
import { netsOf, sorted } from './nets.ts';

const file = (name: string) => readFileSync(new URL(`../../../firmware/${name}`, import.meta.url), 'utf8');

describe('the KiCad schematic, read back', () => {
  type Node = string | Node[];
  /** S-expressions: words, quoted words, lists. */
  function parsed(text: string): Node[] {
    const stack: Node[][] = [[]];
    for (const [token] of text.matchAll(/"(?:[^"\\]|\\.)*"|[()]|[^\s()"]+/g)) {
      if (token === '(') stack.push([]);
      else if (token === ')') {
        const list = stack.pop()!;
        stack.at(-1)!.push(list);
      } else stack.at(-1)!.push(token.startsWith('"') ? token.slice(1, -1).replaceAll(/\\(.)/g, '$1') : token);
    }
    expect(stack.length).toBe(1);
    return stack[0]![0] as Node[];
  }
  const all = (node: Node[], name: string) =>
    node.filter((one): one is Node[] => Array.isArray(one) && one[0] === name);
  const one = (node: Node[], name: string) => all(node, name)[0]!;
  const at = (node: Node[]) => `${Number(node[1]).toFixed(2)},${Number(node[2]).toFixed(2)}`;

  /** Where each pin ends on the sheet -> its name; lib symbols are y upwards, the sheet downwards. */
  function pinEnds(sheet: Node[]): Map<string, string> {
    const ends = new Map<string, string>();
    const symbols = all(one(sheet, 'lib_symbols'), 'symbol');
    for (const placed of all(sheet, 'symbol')) {
      const symbol = symbols.find((each) => each[1] === one(placed, 'lib_id')[1])!;
      const ref = all(placed, 'property').find((each) => each[1] === 'Reference')![2] as string;
      const [, x, y] = one(placed, 'at').map(Number);
      for (const pin of all(symbol, 'symbol').flatMap((each) => all(each, 'pin'))) {
        const [, dx, dy] = one(pin, 'at').map(Number);
        const point = `${(x! + dx!).toFixed(2)},${(y! - dy!).toFixed(2)}`;
        expect(ends.has(point), `two pins at ${point}`).toBe(false);
        ends.set(point, `${ref}.${one(pin, 'number')[1] as string}`);
      }
    }
    return ends;
  }

  const sheet = parsed(file('circuit/board.kicad_sch'));
  const ends = pinEnds(sheet);

  test('its labels, followed along its wires to the pins, are the netlist', () => {
    const joined: Record<string, string[]> = {};
    const labels = new Map(all(sheet, 'label').map((label) => [at(one(label, 'at')), label[1] as string]));
    for (const wire of all(sheet, 'wire')) {
      const [from, to] = all(one(wire, 'pts'), 'xy').map(at);
      const pin = ends.get(from!)!;
      if (!pin.startsWith('#')) (joined[labels.get(to!)!] ??= []).push(pin);
    }
    expect(sorted(joined)).toEqual(netsOf(BOARD));
  });

  test('a cross stands at the open pins alone', () => {
    const crossed = all(sheet, 'no_connect').map((cross) => ends.get(at(one(cross, 'at')))!);
    const open = BOARD.parts.flatMap((part) =>
      part.pins
        .filter((pin) => part.on[pin.number] === OPEN && pin.name !== 'NC')
        .map((pin) => `${part.ref}.${pin.number}`),
    );
    expect(crossed.toSorted()).toEqual(open.toSorted());
  });

  test('all identifiers differ', () => {
    const found = file('circuit/board.kicad_sch').match(/\(uuid [^)]+\)/g)!;
    expect(new Set(found).size).toBe(found.length);
  });
});
