// The two-wire side that both sense chips share: a register pointer, 16-bit writes, and
// reads that run on past the end of a register; and what a fault does to it.
import type { Slot } from './chip/agenda.ts';
import type { SenseChip, SenseChipOptions, SenseFault } from './sense-chip.ts';

/** A0 and A1 to ground. */
export const ADDRESS = 0x40;

export abstract class RegisterChip implements SenseChip {
  protected registers = new Map<number, number>();
  protected fault: SenseFault = null;
  protected pointer = 0;
  protected readonly slot: Slot;
  private written: number[] | null = null;
  private reply: number[] = [];

  /** The chip calls `powerOn` when it is built. */
  protected constructor(protected readonly options: SenseChipOptions) {
    this.slot = options.agenda.add(() => this.endRound());
  }

  abstract powerOn(): void;
  /** The bytes of the register under the pointer, most significant first; a read may clear flags. */
  protected abstract registerBytes(): number[];
  protected abstract writeRegister(register: number, value: number): void;
  /** A round of conversions is over. */
  protected abstract endRound(): void;

  setFault(fault: SenseFault): void {
    const replugged = this.fault === 'unplugged' && fault !== 'unplugged';
    this.fault = fault;
    if (fault === 'unplugged' || replugged) this.powerOn();
    if (fault === 'unplugged') this.options.agenda.set(this.slot, Infinity);
  }

  address(address: number, reading: boolean): boolean {
    if (this.fault === 'unplugged' || address !== (this.options.address ?? ADDRESS)) return false;
    if (reading) this.reply = this.registerBytes();
    else this.written = [];
    return true;
  }

  write(byte: number): boolean {
    if (this.fault === 'unplugged' || this.written === null) return false;
    if (this.written.length === 0) this.pointer = byte;
    this.written.push(byte);
    if (this.written.length === 3) this.writeRegister(this.pointer, this.written[1]! * 256 + byte);
    return true;
  }

  /** Past the register's end the bus floats high. */
  read(): number {
    return this.fault === 'unplugged' ? 0xff : (this.reply.shift() ?? 0xff);
  }

  stop(): void {
    this.written = null;
    this.reply = [];
  }

  protected get(register: number): number {
    return this.registers.get(register) ?? 0;
  }
}
