// What is made of the circuit is up to date, and complete: read back without the code that wrote it.
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { BOARD } from '../../../firmware/circuit/board.ts';
import { drawBoard } from '../../../firmware/circuit/drawing.ts';
import { made } from '../../../firmware/circuit/make.ts';
import { written } from '../../../firmware/circuit/shape.ts';
import { netsOf, sorted } from './nets.ts';

const file = (name: string) => readFileSync(new URL(`../../../firmware/${name}`, import.meta.url), 'utf8');

test.each(Object.entries(made()))('firmware/%s is what firmware/circuit/make.ts writes', (name, text) => {
  expect(file(name) === text, 'run node --import tsx firmware/circuit/make.ts').toBe(true);
});

test('the netlist has every connection once', () => {
  const all: Record<string, string[]> = {};
  for (const line of file('circuit/board-netlist.csv').trim().split('\n').slice(1)) {
    const [net, part, pin] = line.split(',');
    if (net !== '(open)') (all[net!] ??= []).push(`${part}.${pin}`);
  }
  expect(sorted(all)).toEqual(netsOf(BOARD));
});

test('the parts list has each part once, and its numbers add up', () => {
  const rows = file('circuit/board-parts.csv').trim().split('\n').slice(1);
  const refs = rows.flatMap((row) => row.split(',')[0]!.split(' '));
  expect(refs.toSorted()).toEqual(BOARD.parts.map((part) => part.ref).toSorted());
  expect(rows.map((row) => Number(row.split(',')[1])).reduce((a, b) => a + b, 0)).toBe(refs.length);
});

describe('drawing 1', () => {
  test('has every fuse, chip, diode, and what stands in the way of the current', () => {
    const drawn = new Set(drawBoard().match(/\b[A-Z]\d+\b/g));
    const wanted = BOARD.parts.filter((part) =>
      ['fuse', 'chip', 'diode', 'shunt', 'crystal', 'light'].includes(part.kind),
    );
    expect(wanted.map((part) => part.ref).filter((ref) => !drawn.has(ref))).toEqual([]);
    for (const ref of ['R2', 'R3', 'R4', 'R5', 'R6', 'R7', 'C1']) expect(drawn).toContain(ref);
    expect(
      [...drawn].filter((ref) => /^[RFUDYC]\d/.test(ref) && !BOARD.parts.some((part) => part.ref === ref)),
    ).toEqual([]);
  });

  test('says the values of the circuit', () => {
    expect(drawBoard()).toContain('>F4 40 A<');
    expect(drawBoard()).toContain('>R7 6.8 Ω<');
    expect(drawBoard()).not.toMatch(/\{=?[A-Z]/);
  });
});

test.each([
  [2200, 'Ω', '2.2 kΩ'],
  [0.005, 'Ω', '5 mΩ'],
  [1e-7, 'F', '100 nF'],
  [22e-12, 'F', '22 pF'],
  [16e6, 'Hz', '16 MHz'],
  [0, 'V', '0 V'],
] as const)('%f %s is written %s', (value, unit, text) => {
  expect(written(value, unit)).toBe(text);
});
