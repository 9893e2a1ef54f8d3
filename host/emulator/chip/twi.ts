// The two-wire interface as master (ATmega328P data sheet DS40002061, section 21),
// with real bus time: a bit lasts 16 + 2 * TWBR * prescaler cycles (21.5.2), a byte
// nine bits with its acknowledge. One master, so arbitration is never lost; while
// the bus is held low nothing on it ends.
import type { CPU } from 'avr8js';
import type { Agenda, Slot } from './agenda.ts';

/** A chip on the bus. Each call comes when its last bit has passed. */
export interface TwoWireSlave {
  /** A START and an address; returns whether it answers. */
  address(address: number, reading: boolean): boolean;
  /** A byte to the slave; returns its acknowledge. */
  write(byte: number): boolean;
  read(): number;
  stop(): void;
}

const TWBR = 0xb8;
const TWSR = 0xb9;
const TWDR = 0xbb;
const TWCR = 0xbc;
const TWINT = 0x80;
const TWEA = 0x40;
const TWSTA = 0x20;
const TWSTO = 0x10;
const TWWC = 0x08;
const TWEN = 0x04;
const TWIE = 0x01;
/** TWINT stays set until software clears it, hence `constant`. */
const INTERRUPT = {
  address: 0x30,
  flagRegister: TWCR,
  flagMask: TWINT,
  enableRegister: TWCR,
  enableMask: TWIE,
  constant: true,
};

/** Status codes (tables 21-3 and 21-4). */
const IDLE = 0xf8;
const START = 0x08;
const REPEATED_START = 0x10;
const SLAW_ACK = 0x18;
const SLAW_NACK = 0x20;
const SENT_ACK = 0x28;
const SENT_NACK = 0x30;
const SLAR_ACK = 0x40;
const SLAR_NACK = 0x48;
const RECEIVED_ACK = 0x50;
const RECEIVED_NACK = 0x58;

export class TwoWire {
  private readonly slot: Slot;
  private finish: (() => void) | null = null;
  /** Begun while the bus was held; goes on at its release. */
  private waiting: { bits: number; finish: () => void } | null = null;
  private ownsBus = false;
  private held = false;

  constructor(
    private readonly cpu: CPU,
    private readonly agenda: Agenda,
    private readonly slave: TwoWireSlave,
  ) {
    this.slot = agenda.add(() => {
      const finish = this.finish;
      this.finish = null;
      finish?.();
    });
    cpu.writeHooks[TWCR] = (value) => {
      this.control(value);
      return true;
    };
    // The status bits are read-only: only the prescaler is written.
    cpu.writeHooks[TWSR] = (value) => {
      cpu.data[TWSR] = (cpu.data[TWSR]! & 0xf8) | (value & 3);
      return true;
    };
    cpu.writeHooks[TWDR] = (value) => {
      if (cpu.data[TWCR]! & TWINT) cpu.data[TWDR] = value;
      else cpu.data[TWCR]! |= TWWC;
      return true;
    };
    this.reset();
  }

  reset(): void {
    this.abandon();
    this.cpu.data[TWSR] = IDLE;
    this.cpu.data[TWDR] = 0xff;
  }

  /** SDA or SCL held low by something: no transfer ends before it is let go. */
  setHeld(held: boolean): void {
    this.held = held;
    if (held || this.waiting === null) return;
    const { bits, finish } = this.waiting;
    this.waiting = null;
    this.after(bits, finish);
  }

  /** CPU cycles of one bit on the bus. */
  get bitCycles(): number {
    return 16 + 2 * this.cpu.data[TWBR]! * 4 ** (this.cpu.data[TWSR]! & 3);
  }

  private control(value: number): void {
    const { cpu } = this;
    const old = cpu.data[TWCR]!;
    const flag = value & TWINT ? 0 : old & TWINT;
    cpu.data[TWCR] =
      flag | (value & (TWEA | TWSTA | TWSTO | TWEN | TWIE)) | (old & TWWC && !(value & TWINT) ? TWWC : 0);
    cpu.updateInterruptEnable(INTERRUPT, value & TWIE && flag ? TWIE : 0);
    if (!(value & TWEN)) {
      this.abandon();
      this.setStatus(IDLE);
    } else if (value & TWINT && this.finish === null && this.waiting === null) this.begin();
  }

  private abandon(): void {
    this.finish = this.waiting = null;
    this.agenda.set(this.slot, Infinity);
    if (this.ownsBus) this.slave.stop();
    this.ownsBus = false;
  }

  private begin(): void {
    const control = this.cpu.data[TWCR]!;
    if (control & TWSTO) this.after(1, () => this.stopped());
    else if (control & TWSTA) this.after(1, () => this.started());
    else if (this.ownsBus) this.byte();
  }

  private byte(): void {
    const { cpu, slave } = this;
    const data = cpu.data[TWDR]!;
    switch (cpu.data[TWSR]! & 0xf8) {
      case START:
      case REPEATED_START:
        this.after(9, () => {
          const answers = slave.address(data >> 1, (data & 1) === 1);
          if (data & 1) this.done(answers ? SLAR_ACK : SLAR_NACK);
          else this.done(answers ? SLAW_ACK : SLAW_NACK);
        });
        break;
      case SLAW_ACK:
      case SENT_ACK:
        this.after(9, () => this.done(slave.write(data) ? SENT_ACK : SENT_NACK));
        break;
      case SLAR_ACK:
      case RECEIVED_ACK:
        this.after(9, () => {
          cpu.data[TWDR] = slave.read();
          this.done(cpu.data[TWCR]! & TWEA ? RECEIVED_ACK : RECEIVED_NACK);
        });
        break;
      default:
        break;
    }
  }

  private started(): void {
    const status = this.ownsBus ? REPEATED_START : START;
    this.ownsBus = true;
    this.done(status);
  }

  /** A STOP raises no flag; a START asked for with it follows. */
  private stopped(): void {
    if (this.ownsBus) this.slave.stop();
    this.ownsBus = false;
    this.cpu.data[TWCR]! &= ~TWSTO;
    this.setStatus(IDLE);
    if (this.cpu.data[TWCR]! & TWSTA) this.begin();
  }

  private done(status: number): void {
    this.setStatus(status);
    this.cpu.setInterruptFlag(INTERRUPT);
  }

  private setStatus(status: number): void {
    this.cpu.data[TWSR] = (this.cpu.data[TWSR]! & 3) | status;
  }

  private after(bits: number, finish: () => void): void {
    if (this.held) {
      this.waiting = { bits, finish };
      return;
    }
    this.finish = finish;
    this.agenda.set(this.slot, this.cpu.cycles + bits * this.bitCycles);
  }
}
