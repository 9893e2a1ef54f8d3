// The watchdog (ATmega328P data sheet DS40002061, section 10.8 and 10.9.2): timed
// change sequence, interrupt mode, system reset, and WDRF keeping it on after one.
import type { CPU } from 'avr8js';
import type { Agenda, Slot } from './agenda.ts';

const MCUSR = 0x54;
const WDTCSR = 0x60;
const WDIF = 0x80;
const WDIE = 0x40;
const WDP3 = 0x20;
const WDCE = 0x10;
const WDE = 0x08;
const WDP210 = 0x07;
export const WDRF = 0x08;
const INTERRUPT = { address: 0x0c, flagRegister: WDTCSR, flagMask: WDIF, enableRegister: WDTCSR, enableMask: WDIE };

/** Shortest time-out is 2048 cycles of a 128 kHz oscillator (table 10-2), each step twice as long. */
const SHORTEST_S = 2048 / 128_000;
/** A change must follow within four cycles of the sequence; the write itself takes two. */
const CHANGE_CYCLES = 6;

export class Watchdog {
  private readonly slot: Slot;
  private fed = 0;
  private changeUntil = -1;

  constructor(
    private readonly cpu: CPU,
    private readonly agenda: Agenda,
    private readonly frequency_Hz: number,
    private readonly bite: () => void,
  ) {
    this.slot = agenda.add(() => this.check());
    cpu.onWatchdogReset = () => {
      this.fed = cpu.cycles;
    };
    cpu.writeHooks[WDTCSR] = (value) => {
      this.write(value);
      return true;
    };
  }

  reset(): void {
    this.changeUntil = -1;
    this.restart();
  }

  private write(value: number): void {
    const { cpu } = this;
    const old = cpu.data[WDTCSR]!;
    const opens = (value & (WDCE | WDE)) === (WDCE | WDE);
    const mayChange = cpu.cycles <= this.changeUntil;
    if (opens) this.changeUntil = cpu.cycles + CHANGE_CYCLES;
    let next = (old & WDIF) | (value & WDIE);
    // Outside the sequence the prescaler stays, and WDE can only be set.
    if (mayChange) next |= value & (WDE | WDP3 | WDP210);
    else next |= (old & (WDE | WDP3 | WDP210)) | (value & WDE);
    cpu.data[WDTCSR] = next;
    cpu.clearInterruptByFlag(INTERRUPT, value);
    cpu.updateInterruptEnable(INTERRUPT, next);
    this.restart();
  }

  private running(): boolean {
    return (this.cpu.data[WDTCSR]! & (WDE | WDIE)) !== 0 || (this.cpu.data[MCUSR]! & WDRF) !== 0;
  }

  private timeoutCycles(): number {
    const value = this.cpu.data[WDTCSR]!;
    const prescale = ((value & WDP3) >> 2) | (value & WDP210);
    return SHORTEST_S * 2 ** prescale * this.frequency_Hz;
  }

  private restart(): void {
    this.fed = this.cpu.cycles;
    this.agenda.set(this.slot, this.running() ? this.fed + this.timeoutCycles() : Infinity);
  }

  /** WDR only notes its time: the entry comes due late and looks whether it was fed. */
  private check(): void {
    const due = this.fed + this.timeoutCycles();
    if (!this.running()) return;
    if (due > this.cpu.cycles) return this.agenda.set(this.slot, due);
    const value = this.cpu.data[WDTCSR]!;
    const resets = (value & WDE) !== 0 || (this.cpu.data[MCUSR]! & WDRF) !== 0;
    if (value & WDIE) {
      this.cpu.setInterruptFlag(INTERRUPT);
      if (resets) this.cpu.data[WDTCSR]! &= ~WDIE;
    } else if (resets) return this.bite();
    this.restart();
  }
}
