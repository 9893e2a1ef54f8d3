// Timer/Counter 0, 1 and 2 of the ATmega328P (data sheet DS40002061, sections 15,
// 16, 18), counted lazily: the count is worked out when a register is touched,
// and the agenda knows the next event that has its interrupt enabled. Normal and
// CTC modes; another mode stops the emulation instead of counting wrongly.
import type { CPU } from 'avr8js';
import type { Agenda, Slot } from './agenda.ts';

type Interrupt = Parameters<CPU['setInterruptFlag']>[0];

interface TimerRegisters {
  name: string;
  bits: 8 | 16;
  TCCRA: number;
  TCCRB: number;
  TCNT: number;
  OCRA: number;
  OCRB: number;
  TIMSK: number;
  TIFR: number;
  vectorA: number;
  vectorB: number;
  vectorOverflow: number;
  /** Clock divider by CS2:0; 0 stops. External clocks (Timer 0 and 1: 6, 7) are not modelled. */
  dividers: (number | undefined)[];
}

const DIVIDERS_01 = [0, 1, 8, 64, 256, 1024];
const DIVIDERS_2 = [0, 1, 8, 32, 64, 128, 256, 1024];

/** Register addresses in data space and vectors in words: data sheet, register summary and table 12-6. */
export const TIMERS: TimerRegisters[] = [
  {
    name: 'timer 0',
    bits: 8,
    TCCRA: 0x44,
    TCCRB: 0x45,
    TCNT: 0x46,
    OCRA: 0x47,
    OCRB: 0x48,
    TIMSK: 0x6e,
    TIFR: 0x35,
    vectorA: 0x1c,
    vectorB: 0x1e,
    vectorOverflow: 0x20,
    dividers: DIVIDERS_01,
  },
  {
    name: 'timer 1',
    bits: 16,
    TCCRA: 0x80,
    TCCRB: 0x81,
    TCNT: 0x84,
    OCRA: 0x88,
    OCRB: 0x8a,
    TIMSK: 0x6f,
    TIFR: 0x36,
    vectorA: 0x16,
    vectorB: 0x18,
    vectorOverflow: 0x1a,
    dividers: DIVIDERS_01,
  },
  {
    name: 'timer 2',
    bits: 8,
    TCCRA: 0xb0,
    TCCRB: 0xb1,
    TCNT: 0xb2,
    OCRA: 0xb3,
    OCRB: 0xb4,
    TIMSK: 0x70,
    TIFR: 0x37,
    vectorA: 0x0e,
    vectorB: 0x10,
    vectorOverflow: 0x12,
    dividers: DIVIDERS_2,
  },
];

const TOV = 1;
const OCFA = 2;
const OCFB = 4;

export class Timer {
  private readonly max: number;
  private readonly slot: Slot;
  private readonly sources: { flag: number; interrupt: Interrupt }[];
  private count = 0;
  /** Prescaler ticks since power-on at which `count` was true. */
  private ticks = 0;
  private divider = 0;
  private ocrA = 0;
  private ocrB = 0;
  /** The one byte that a 16-bit access goes through (section 16.3). */
  private highByte = 0;

  constructor(
    private readonly cpu: CPU,
    private readonly agenda: Agenda,
    private readonly registers: TimerRegisters,
  ) {
    const r = registers;
    this.max = r.bits === 16 ? 0xffff : 0xff;
    const source = (flag: number, address: number) => ({
      flag,
      interrupt: { address, flagRegister: r.TIFR, flagMask: flag, enableRegister: r.TIMSK, enableMask: flag },
    });
    this.sources = [source(OCFA, r.vectorA), source(OCFB, r.vectorB), source(TOV, r.vectorOverflow)];
    this.slot = agenda.add(() => {
      this.sync();
      this.plan();
    });
    this.hookControl();
    this.hookCounts();
  }

  reset(): void {
    this.count = this.divider = this.ocrA = this.ocrB = this.highByte = 0;
    this.agenda.set(this.slot, Infinity);
  }

  private hookControl(): void {
    const { cpu, registers: r } = this;
    for (const register of [r.TCCRA, r.TCCRB]) {
      cpu.writeHooks[register] = (value) => {
        this.sync();
        cpu.data[register] = value;
        this.applyMode();
        this.plan();
        return true;
      };
    }
    cpu.writeHooks[r.TIMSK] = (value) => {
      this.sync();
      cpu.data[r.TIMSK] = value;
      for (const { interrupt } of this.sources) cpu.updateInterruptEnable(interrupt, value);
      this.plan();
      return true;
    };
    cpu.readHooks[r.TIFR] = () => {
      this.sync();
      return cpu.data[r.TIFR]!;
    };
    cpu.writeHooks[r.TIFR] = (value, _old, _address, mask) => {
      this.sync();
      for (const { interrupt } of this.sources) cpu.clearInterruptByFlag(interrupt, value & mask);
      this.plan();
      return true;
    };
  }

  private hookCounts(): void {
    const { registers: r } = this;
    this.hookCount(
      r.TCNT,
      () => this.count,
      (value) => (this.count = value),
    );
    this.hookCount(
      r.OCRA,
      () => this.ocrA,
      (value) => (this.ocrA = value),
    );
    this.hookCount(
      r.OCRB,
      () => this.ocrB,
      (value) => (this.ocrB = value),
    );
  }

  private hookCount(address: number, get: () => number, set: (value: number) => void): void {
    const { cpu } = this;
    const wide = this.registers.bits === 16;
    cpu.readHooks[address] = () => {
      this.sync();
      const value = get();
      // Only a read of the count latches the high byte; the compare registers are read straight (16.3).
      if (address === this.registers.TCNT) this.highByte = value >> 8;
      return value & 0xff;
    };
    cpu.writeHooks[address] = (value) => {
      this.sync();
      set(wide ? (this.highByte << 8) | value : value);
      this.plan();
      return true;
    };
    if (!wide) return;
    cpu.readHooks[address + 1] = () => (address === this.registers.TCNT ? this.highByte : get() >> 8);
    cpu.writeHooks[address + 1] = (value) => {
      this.highByte = value;
      return true;
    };
  }

  private applyMode(): void {
    const { cpu, registers: r } = this;
    const select = cpu.data[r.TCCRB]! & 7;
    const divider = r.dividers[select];
    if (divider === undefined) throw new Error(`${r.name}: clock select ${select} (an external clock) is not modelled`);
    this.divider = divider;
    if (divider !== 0) this.top();
    this.ticks = this.prescalerTicks();
  }

  private top(): number {
    const { cpu, registers: r } = this;
    const wgm = (cpu.data[r.TCCRA]! & 3) | ((cpu.data[r.TCCRB]! & (r.bits === 16 ? 0x18 : 8)) >> 1);
    if (wgm === 0) return this.max;
    if (wgm === (r.bits === 16 ? 4 : 2)) return this.ocrA;
    throw new Error(`${r.name}: waveform mode ${wgm} is not modelled; normal and CTC (top in OCRA) are`);
  }

  /** The prescaler runs free from power-on and is shared, so ticks lie on multiples of the divider. */
  private prescalerTicks(): number {
    return this.divider === 0 ? 0 : Math.floor(this.cpu.cycles / this.divider);
  }

  /** Brings count and flags up to the present cycle. */
  private sync(): void {
    if (this.divider === 0) return;
    const now = this.prescalerTicks();
    let left = now - this.ticks;
    if (left === 0) return;
    this.ticks = now;
    let flags = 0;
    while (left > 0) {
      const limit = this.limit();
      const run = Math.min(left, limit - this.count);
      flags |= this.matches(this.count + 1, this.count + run);
      this.count += run;
      left -= run;
      if (left > 0) {
        if (limit === this.max) flags |= TOV;
        this.count = 0;
        flags |= this.matches(0, 0);
        left--;
        // Whole turns only set again the flags that one more turn sets.
        const period = this.limit() + 1;
        if (left > 2 * period) left = (left % period) + period;
      }
    }
    for (const { flag, interrupt } of this.sources) if (flags & flag) this.cpu.setInterruptFlag(interrupt);
  }

  /** Last count before 0: a count that is already past a lowered top runs to the maximum. */
  private limit(): number {
    const top = this.top();
    return this.count <= top ? top : this.max;
  }

  private matches(from: number, to: number): number {
    return (this.ocrA >= from && this.ocrA <= to ? OCFA : 0) | (this.ocrB >= from && this.ocrB <= to ? OCFB : 0);
  }

  /** Enters the next event whose interrupt is enabled. */
  private plan(): void {
    const enabled = this.cpu.data[this.registers.TIMSK]!;
    let ticks = Infinity;
    if (this.divider !== 0) {
      if (enabled & OCFA) ticks = Math.min(ticks, this.ticksTo(this.ocrA));
      if (enabled & OCFB) ticks = Math.min(ticks, this.ticksTo(this.ocrB));
      if (enabled & TOV && this.limit() === this.max) ticks = Math.min(ticks, this.max + 1 - this.count);
    }
    this.agenda.set(this.slot, ticks === Infinity ? Infinity : (this.ticks + ticks) * this.divider);
  }

  private ticksTo(value: number): number {
    const limit = this.limit();
    if (value > this.count && value <= limit) return value - this.count;
    return value <= this.top() || limit === this.max ? limit + 1 - this.count + value : Infinity;
  }
}
