// Flags that the instruction core gets wrong (avr8js 0.21), against the AVR
// Instruction Set Manual (DS40002198):
//   CPC, SBC, SBCI: Z stays set where it was set and the result is 0. The core loses
//     it at 0 - 255 - 1, whose result it takes for -256.
//   NEG: V is set, and S with it cleared, at 80h. The core never sets V.
// Found by reading it; the tests run every operand through the manual's formulas.
import type { CPU } from 'avr8js';

const SREG = 0x5f;
const C = 1;
const Z = 2;
const V = 8;
const S = 0x10;

const AS_IT_IS = 0;
const REGISTER_WITH_CARRY = 1;
const CONSTANT_WITH_CARRY = 2;
const NEGATE = 3;

/** For each word of flash: whether an instruction that begins there needs a correction. */
export function markCorrections(progMem: Uint16Array): Uint8Array {
  return Uint8Array.from(progMem, (opcode) => {
    if ((opcode & 0xfc00) === 0x0400 || (opcode & 0xfc00) === 0x0800) return REGISTER_WITH_CARRY;
    if ((opcode & 0xf000) === 0x4000) return CONSTANT_WITH_CARRY;
    return (opcode & 0xfe0f) === 0x9401 ? NEGATE : AS_IT_IS;
  });
}

/** Runs the marked instruction at the program counter, and sets the flags that the core leaves wrong. */
export function executeCorrected(cpu: CPU, mark: number, execute: (cpu: CPU) => void): void {
  const { data } = cpu;
  const opcode = cpu.progMem[cpu.pc]!;
  const before = data[SREG]!;
  if (mark === NEGATE) {
    const lowest = data[(opcode & 0x1f0) >> 4] === 0x80;
    execute(cpu);
    if (lowest) data[SREG] = (data[SREG]! | V) & ~S;
    return;
  }
  const constant = mark === CONSTANT_WITH_CARRY;
  const from = data[constant ? ((opcode & 0xf0) >> 4) + 16 : (opcode & 0x1f0) >> 4]!;
  const taken = constant ? (opcode & 0x0f) | ((opcode & 0xf00) >> 4) : data[(opcode & 0x0f) | ((opcode & 0x200) >> 5)]!;
  execute(cpu);
  if (before & C && before & Z && from === 0 && taken === 0xff) data[SREG]! |= Z;
}
