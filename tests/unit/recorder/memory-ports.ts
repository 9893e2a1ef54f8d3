// Serial ports in memory, on a clock of the test's own: they open, close, lose what nobody
// reads, refuse a second opener, and go when they are pulled, as those of a computer do.

import type { Time } from '../../../host/contract/time.ts';
import { pause } from '../../../host/contract/time.ts';
import type { OpenPort, Port } from '../../../host/link/port.ts';
import type { Terminal } from './scripted-board.ts';

const OPENS_IN_MS = 3;
const WIRE_MS = 1;

export class MemoryPorts {
  private readonly there = new Map<string, MemoryTerminal>();
  private made = 0;
  /** How long a port takes to close. */
  closes_ms = OPENS_IN_MS;
  /** A board that is still there, but takes no writing any more. */
  deaf = false;

  constructor(readonly time: Time) {}

  readonly terminal = (): Terminal => new MemoryTerminal(this, ++this.made);

  readonly openPort: OpenPort = (path) => new MemoryPort(this, path);

  at(path: string): MemoryTerminal | undefined {
    return this.there.get(path);
  }

  put(path: string, terminal: MemoryTerminal): void {
    this.there.set(path, terminal);
  }

  take(terminal: MemoryTerminal): void {
    for (const [path, found] of this.there) if (found === terminal) this.there.delete(path);
  }
}

/** The board's end. */
class MemoryTerminal implements Terminal {
  far: MemoryPort | null = null;
  private came: Buffer[] = [];

  constructor(
    private readonly ports: MemoryPorts,
    readonly number: number,
  ) {}

  linkAs(path: string): void {
    this.ports.put(path, this);
  }

  send(bytes: Buffer): void {
    const { far } = this;
    if (far !== null) this.ports.time.after(WIRE_MS, () => far.arrived(bytes));
  }

  sent(bytes: Buffer): void {
    this.came.push(bytes);
  }

  receive(): Buffer {
    return Buffer.concat(this.came.splice(0));
  }

  close(): void {
    this.ports.take(this);
    this.far?.pulled();
  }
}

/** The computer's end. */
class MemoryPort implements Port {
  private near: MemoryTerminal | null = null;
  private take: (bytes: Buffer) => void = () => undefined;
  private tell: () => void = () => undefined;

  constructor(
    private readonly ports: MemoryPorts,
    private readonly path: string,
  ) {}

  get isOpen(): boolean {
    return this.near !== null;
  }

  async open(): Promise<void> {
    await pause(this.ports.time, OPENS_IN_MS);
    const near = this.ports.at(this.path);
    // In the serial port package's words.
    if (near === undefined) throw new Error(`Error: No such file or directory, cannot open ${this.path}`);
    if (near.far !== null) throw new Error('Error Resource temporarily unavailable Cannot lock port');
    this.near = near;
    near.far = this;
  }

  onData(take: (bytes: Buffer) => void): void {
    this.take = take;
  }

  onClose(tell: () => void): void {
    this.tell = tell;
  }

  write(text: string, done: (error: Error | null) => void): void {
    const { near } = this;
    if (this.ports.deaf) return void this.ports.time.after(WIRE_MS, () => done(new Error('Input/output error')));
    if (near === null) return void this.ports.time.after(0, () => done(new Error('Port is not open')));
    this.ports.time.after(WIRE_MS, () => {
      near.sent(Buffer.from(text, 'latin1'));
      done(null);
    });
  }

  async close(): Promise<void> {
    await pause(this.ports.time, this.ports.closes_ms);
    if (this.near !== null) this.near.far = null;
    this.near = null;
    this.tell();
  }

  device(): string | null {
    const there = this.ports.at(this.path);
    return there === undefined ? null : String(there.number);
  }

  arrived(bytes: Buffer): void {
    if (this.near !== null) this.take(bytes);
  }

  pulled(): void {
    if (this.near !== null) this.near.far = null;
    this.near = null;
    this.ports.time.after(WIRE_MS, () => this.tell());
  }
}
