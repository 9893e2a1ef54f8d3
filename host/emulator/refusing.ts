// A chip on the bus that refuses one byte: each byte that a slave acknowledges (its
// address, the register pointer, data written) may be the one, so that a test can go
// through all of them.
import type { TwoWireSlave } from './chip/twi.ts';

export class RefusingSlave implements TwoWireSlave {
  private left: number | null = null;

  constructor(private readonly slave: TwoWireSlave) {}

  /** Refuses the byte after `bytes` more; null: none. The refusal happens once. */
  refuseAfter(bytes: number | null): void {
    this.left = bytes;
  }

  address(address: number, reading: boolean): boolean {
    return this.slave.address(address, reading) && !this.refuses();
  }

  write(byte: number): boolean {
    return !this.refuses() && this.slave.write(byte);
  }

  read(): number {
    return this.slave.read();
  }

  stop(): void {
    this.slave.stop();
  }

  private refuses(): boolean {
    if (this.left === null) return false;
    this.left = this.left === 0 ? null : this.left - 1;
    return this.left === null;
  }
}
