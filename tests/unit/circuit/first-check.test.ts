// What is measured before the first clamp finds what a hand does wrong: each resistor and each fuse
// left out, and each resistor of another value, shows in at least one line.
import { describe, expect, test } from 'vitest';
import { BOARD } from '../../../firmware/circuit/board.ts';
import { MEASURED, expected, resistanceBetween } from '../../../firmware/circuit/first-check.ts';
import type { Circuit, Part } from '../../../firmware/circuit/shape.ts';

const shown = (circuit: Circuit) => MEASURED.map((one) => expected(circuit, one));
const parts = BOARD.parts.filter((part) => part.kind === 'resistor' || part.kind === 'fuse' || part.kind === 'shunt');
const changed = (ref: string, change: (part: Part) => Part[]): Circuit => ({
  ...BOARD,
  parts: BOARD.parts.flatMap((part) => (part.ref === ref ? change(part) : [part])),
});

test.each(parts.map((part) => part.ref))('%s left out is seen', (ref) => {
  expect(shown(changed(ref, () => []))).not.toEqual(shown(BOARD));
});

test.each(parts.filter((part) => part.kind === 'resistor').map((part) => part.ref))(
  '%s of half its value is seen',
  (ref) => {
    expect(shown(changed(ref, (part) => [{ ...part, value: part.value! / 2 }]))).not.toEqual(shown(BOARD));
  },
);

test('a bridge of solder from 5 V to ground is seen', () => {
  const bridge: Part = {
    ...BOARD.parts.find((part) => part.ref === 'R4')!,
    ref: 'R99',
    value: 1,
    on: { '1': '5V', '2': 'GND' },
  };
  expect(shown({ ...BOARD, parts: [...BOARD.parts, bridge] })).toContain('1 Ω');
});

test.each(MEASURED.map((one) => [one.from, one.to]))('%s and %s are nets of the board', (from, to) => {
  const names = BOARD.nets.map((net) => net.name);
  expect(names).toContain(from);
  expect(names).toContain(to);
});

test.each(MEASURED.filter((one) => one.where.includes('pin')))('$where is where the net is', ({ from, to, where }) => {
  for (const [, pins, ref] of where.matchAll(/pins? ([\d and]+) of ([A-Z]\d)/g))
    for (const [pin] of pins!.matchAll(/\d+/g))
      expect([from, to]).toContain(BOARD.parts.find((part) => part.ref === ref)!.on[pin]);
});

describe('resistance', () => {
  const resistor = (ref: string, value: number, a: string, b: string): Part => ({
    ...BOARD.parts.find((part) => part.ref === 'R4')!,
    ref,
    value,
    on: { '1': a, '2': b },
  });
  const of = (...list: Part[]): Circuit => ({ ...BOARD, parts: list });

  test('in series, side by side, across a bridge of five', () => {
    expect(resistanceBetween(of(resistor('R1', 10, 'a', 'b'), resistor('R2', 20, 'b', 'c')), 'a', 'c')).toBeCloseTo(
      30,
      6,
    );
    expect(resistanceBetween(of(resistor('R1', 30, 'a', 'b'), resistor('R2', 60, 'a', 'b')), 'a', 'b')).toBeCloseTo(
      20,
      6,
    );
    // Equal arms: no current in the middle, whatever lies there.
    const bridge = of(
      resistor('R1', 1, 'a', 'b'),
      resistor('R2', 1, 'a', 'c'),
      resistor('R3', 1, 'b', 'd'),
      resistor('R4', 1, 'c', 'd'),
      resistor('R5', 7, 'b', 'c'),
    );
    expect(resistanceBetween(bridge, 'a', 'd')).toBeCloseTo(1, 6);
    expect(resistanceBetween(of(resistor('R1', 10, 'a', 'b')), 'a', 'z')).toBe(Infinity);
  });
});
