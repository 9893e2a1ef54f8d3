// The flags of CPC, SBC, SBCI and NEG for every operand, against the formulas of the AVR
// Instruction Set Manual (DS40002198), and that the core alone gets some of them wrong.
import { CPU, avrInstruction } from 'avr8js';
import { describe, expect, test } from 'vitest';
import { executeCorrected, markCorrections } from '../../../host/emulator/chip/corrections.ts';

const SREG = 0x5f;

/** Bits of SREG: I T H S V N Z C. */
function subtracted(from: number, taken: number, before: number): { result: number; sreg: number } {
  const carry = before & 1;
  const result = (from - taken - carry) & 0xff;
  const bit = (value: number, n: number) => (value >> n) & 1;
  const borrow = (n: number) =>
    ((1 - bit(from, n)) & bit(taken, n)) | (bit(taken, n) & bit(result, n)) | (bit(result, n) & (1 - bit(from, n)));
  const N = bit(result, 7);
  const V = (bit(from, 7) & (1 - bit(taken, 7)) & (1 - N)) | ((1 - bit(from, 7)) & bit(taken, 7) & N);
  const Z = result === 0 ? (before >> 1) & 1 : 0;
  return {
    result,
    sreg: (before & 0xc0) | (borrow(3) << 5) | ((N ^ V) << 4) | (V << 3) | (N << 2) | (Z << 1) | borrow(7),
  };
}

function negated(value: number, before: number): { result: number; sreg: number } {
  const result = -value & 0xff;
  const N = result >> 7;
  const V = result === 0x80 ? 1 : 0;
  const H = ((result >> 3) & 1) | ((value >> 3) & 1);
  return {
    result,
    sreg:
      (before & 0xc0) |
      (H << 5) |
      ((N ^ V) << 4) |
      (V << 3) |
      (N << 2) |
      (result === 0 ? 2 : 0) |
      (result === 0 ? 0 : 1),
  };
}

/** H, which the core takes from bit 0: only BRHC and BRHS read it, and no compiler makes them. */
const HALF = 0x20;

/** Counts the operands at which the result or the flags, H aside, are not the manual's. */
function wrong(kind: 'cpc' | 'sbc' | 'sbci' | 'neg', corrected: boolean): number {
  let count = 0;
  const cpus = new Map<number, CPU>();
  for (let from = 0; from < 256; from++) {
    for (let taken = 0; taken < (kind === 'neg' ? 1 : 256); taken++) {
      // r16 and r17; the constant of SBCI lies in the opcode.
      const opcode = { cpc: 0x0701, sbc: 0x0b01, sbci: 0x4000 | ((taken & 0xf0) << 4) | (taken & 0x0f), neg: 0x9501 }[
        kind
      ];
      let cpu = cpus.get(opcode);
      if (cpu === undefined) cpus.set(opcode, (cpu = new CPU(Uint16Array.of(opcode), 2048)));
      const mark = markCorrections(cpu.progMem)[0]!;
      for (const before of [0, 1, 2, 3, 0xc3]) {
        cpu.pc = 0;
        cpu.data[16] = from;
        cpu.data[17] = taken;
        cpu.data[SREG] = before;
        if (corrected) executeCorrected(cpu, mark, avrInstruction);
        else avrInstruction(cpu);
        const want = kind === 'neg' ? negated(from, before) : subtracted(from, taken, before);
        if ((cpu.data[SREG] | HALF) !== (want.sreg | HALF) || cpu.data[16] !== (kind === 'cpc' ? from : want.result))
          count++;
      }
    }
  }
  return count;
}

describe('flags', () => {
  test.each(['sbc', 'cpc', 'sbci', 'neg'] as const)(
    '%s: the core is wrong somewhere, corrected it is right everywhere',
    (kind) => {
      expect(wrong(kind, false)).toBeGreaterThan(0);
      expect(wrong(kind, true)).toBe(0);
    },
  );
});
