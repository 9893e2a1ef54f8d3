// USART0 (ATmega328P data sheet DS40002061, section 19), asynchronous: a buffer and
// a shift register to send, two bytes of buffer to receive, and the time that each
// byte takes on the wire.
import type { CPU } from 'avr8js';
import type { Agenda, Slot } from './agenda.ts';

const UCSRA = 0xc0;
const UCSRB = 0xc1;
const UCSRC = 0xc2;
const UBRRL = 0xc4;
const UBRRH = 0xc5;
const UDR = 0xc6;
const RXC = 0x80;
const TXC = 0x40;
const UDRE = 0x20;
const DOR = 0x08;
const U2X = 0x02;
const MPCM = 0x01;
const RXCIE = 0x80;
const TXCIE = 0x40;
const UDRIE = 0x20;
const RXEN = 0x10;
const TXEN = 0x08;
/** 8 data bits, the reset value of UCSR0C. */
const EIGHT_BITS = 0x06;

/** RXC and UDRE last as long as their cause does, hence `constant`; TXC falls as its interrupt is entered. */
const RECEIVED = {
  address: 0x24,
  flagRegister: UCSRA,
  flagMask: RXC,
  enableRegister: UCSRB,
  enableMask: RXCIE,
  constant: true,
};
const EMPTY = {
  address: 0x26,
  flagRegister: UCSRA,
  flagMask: UDRE,
  enableRegister: UCSRB,
  enableMask: UDRIE,
  constant: true,
};
const SENT = {
  address: 0x28,
  flagRegister: UCSRA,
  flagMask: TXC,
  enableRegister: UCSRB,
  enableMask: TXCIE,
  constant: false,
};

export class Usart {
  private readonly sendSlot: Slot;
  private readonly receiveSlot: Slot;
  private shifting: number | null = null;
  private buffered: number | null = null;
  /** Bytes still on their way to the chip. */
  private readonly incoming: number[] = [];
  private received: number[] = [];

  constructor(
    private readonly cpu: CPU,
    private readonly agenda: Agenda,
    private readonly onByte: (byte: number) => void,
  ) {
    this.sendSlot = agenda.add(() => this.shifted());
    this.receiveSlot = agenda.add(() => this.arrived());
    this.hookRegisters();
    this.reset();
  }

  reset(): void {
    const { data } = this.cpu;
    data[UCSRA] = UDRE;
    data[UCSRC] = EIGHT_BITS;
    this.shifting = this.buffered = null;
    this.received = [];
    this.agenda.set(this.sendSlot, Infinity);
  }

  /** Bytes from the other end, one after another at the line's rate. */
  send(bytes: Iterable<number>): void {
    const idle = this.incoming.length === 0;
    for (const byte of bytes) this.incoming.push(byte);
    if (idle && this.incoming.length > 0) this.agenda.set(this.receiveSlot, this.cpu.cycles + this.byteCycles());
  }

  /** CPU cycles of one bit on the wire. */
  get bitCycles(): number {
    const { data } = this.cpu;
    return ((data[UBRRH]! & 0x0f) * 256 + data[UBRRL]! + 1) * (data[UCSRA]! & U2X ? 8 : 16);
  }

  /** Start bit, eight data bits, stop bit. Other frames are not modelled. */
  private byteCycles(): number {
    if (this.cpu.data[UCSRC] !== EIGHT_BITS || this.cpu.data[UCSRB]! & 4) {
      throw new Error(
        `USART: frame UCSR0C = ${this.cpu.data[UCSRC]} is not modelled; 8 data bits, no parity, 1 stop bit is`,
      );
    }
    return this.bitCycles * 10;
  }

  private hookRegisters(): void {
    const { cpu } = this;
    cpu.writeHooks[UCSRA] = (value, old, _address, mask) => {
      cpu.data[UCSRA] = (old & ~(U2X | MPCM)) | (value & (U2X | MPCM));
      cpu.clearInterruptByFlag(SENT, value & mask);
      return true;
    };
    cpu.writeHooks[UCSRB] = (value) => {
      cpu.data[UCSRB] = value;
      if (!(value & RXEN)) this.dropReceived();
      for (const interrupt of [RECEIVED, EMPTY, SENT]) cpu.updateInterruptEnable(interrupt, value);
      return true;
    };
    cpu.readHooks[UDR] = () => {
      const byte = this.received.shift() ?? 0;
      cpu.data[UCSRA]! &= ~DOR;
      if (this.received.length === 0) cpu.clearInterrupt(RECEIVED);
      return byte;
    };
    cpu.writeHooks[UDR] = (value) => {
      this.put(value);
      return true;
    };
  }

  private put(byte: number): void {
    if (!(this.cpu.data[UCSRB]! & TXEN) || this.buffered !== null) return;
    if (this.shifting === null) return this.shift(byte);
    this.buffered = byte;
    this.cpu.clearInterrupt(EMPTY);
  }

  private shift(byte: number): void {
    this.shifting = byte;
    this.agenda.set(this.sendSlot, this.cpu.cycles + this.byteCycles());
  }

  private shifted(): void {
    const byte = this.shifting!;
    const next = this.buffered;
    this.shifting = this.buffered = null;
    if (next === null) this.cpu.setInterruptFlag(SENT);
    else {
      this.shift(next);
      this.cpu.setInterruptFlag(EMPTY);
    }
    this.onByte(byte);
  }

  private arrived(): void {
    const byte = this.incoming.shift()!;
    if (this.incoming.length > 0) this.agenda.set(this.receiveSlot, this.cpu.cycles + this.byteCycles());
    if (!(this.cpu.data[UCSRB]! & RXEN)) return;
    if (this.received.length >= 2) {
      this.cpu.data[UCSRA]! |= DOR;
      return;
    }
    this.received.push(byte);
    this.cpu.setInterruptFlag(RECEIVED);
  }

  private dropReceived(): void {
    this.received = [];
    this.cpu.clearInterrupt(RECEIVED);
  }
}
