// One opening of a serial port: from the path to a board that has said hello, and
// every line after that, checked.

import { ReadlineParser } from '@serialport/parser-readline';
import type { Certificate, ChipLimits, Hello, Reading } from '../contract/capture.ts';
import { pause } from '../contract/time.ts';
import type { Time } from '../contract/time.ts';
import { keepsNotes, readCertificate } from './certificate.ts';
import { formatCommand, TAG_MAX } from './commands.ts';
import type { CommandLetter } from './commands.ts';
import { PROTO, protoOf } from './hello.ts';
import { LineCap } from './line-cap.ts';
import { parseLine } from './lines.ts';
import type { Answer, Bad, Refusal } from './lines.ts';
import type { OpenPort, Port } from './port.ts';
import { LinkError, noHelloError, openError, wrongProtoError } from './port-errors.ts';
import { groupOf } from './ports.ts';
import { commandsFor } from './settings.ts';
import type { WantedSettings } from './settings.ts';

/** firmware/PROTOCOL.md, "The wire". */
const BAUD = 500_000;

/** A board that resets when its port opens needs a boot loader's second or two first. */
export const HELLO_WITHIN_MS = 5000;

/** Between two questions for the hello. */
const ASK_EVERY_MS = 500;

/** An answered `h` is followed by a `p`; a board that is told to boot just then may miss it. */
const PING_WITHIN_MS = 1500;

/** Readings kept back until the board has said who it is: a few seconds of them. */
const HELD_MAX = 4096;

const BAD_LINES_SHOWN = 3;

/** A port that has gone may never say that it is closed. */
const CLOSED_WITHIN_MS = 2000;

/** What a connection has from outside. */
export interface Outside {
  time: Time;
  openPort: OpenPort;
}

export interface ConnectionHandlers {
  /** A checked reading and when its bytes arrived (host microseconds). */
  reading: (reading: Reading, arrival_us: number) => void;
  /** A further hello. `asked`: it answers a question of ours; otherwise the board has booted. */
  hello: (hello: Hello, asked: boolean) => void;
  bad: (bad: Bad) => void;
  /** What the sense chip can do, behind each hello. */
  limits?: (limits: ChipLimits) => void;
  /** The port closed by itself. Called once at most. */
  closed: (reason: string) => void;
}

/** What the board said when the connection was made. */
export interface Greeting {
  hello: Hello;
  /** Device time at the end of the handshake, null where the board did not tell. */
  t_us: number | null;
  /** Whether it booted after its port was opened: many converters reset their board with that. */
  bootedByUs: boolean;
  /** What the board says of its being proved; null where it was not, or its firmware is older. */
  certificate?: Certificate | null;
}

export class Connection {
  private readonly port: Port;
  private readonly time: Time;
  private arrival_us = 0;
  private bytes = 0;
  private unprintable = 0;
  private readonly badLines: string[] = [];
  private wrongProto: number | null = null;
  private tag = 0;
  private readonly pending = new Map<number, (back: Answer | Refusal | null) => void>();
  private readonly helloTags = new Set<number>();
  private onHello: ((hello: Hello) => void) | null = null;
  private onEarlyEnd: (() => void) | null = null;
  private greeted: Hello | null = null;
  private held: [Reading, number][] | null = [];
  private limits: ChipLimits | null = null;
  private over = false;
  private shutting: Promise<void> | null = null;
  private device: string | null = null;
  /** The last question for windows, and whether the board understands such. */
  private readonly again = { tag: 0, known: true };
  /** Whether a line with a right check code came. */
  private heardOurs = false;

  /**
   * Never throws: `open` tells what is wrong.
   * @param asks `listening`: says nothing to whatever is there before it has sent a line of
   *   ours: a device of somebody else is opened, and no more
   */
  constructor(
    private readonly path: string,
    private readonly handlers: ConnectionHandlers,
    { time, openPort }: Outside,
    private readonly asks: 'at once' | 'listening' = 'at once',
    private readonly wanted: WantedSettings = () => null,
  ) {
    this.time = time;
    this.port = openPort(path, BAUD);
  }

  /** Host time of the last byte that arrived. */
  get lastByte_us(): number {
    return this.arrival_us;
  }

  /**
   * Opens the port and asks for the hello. Readings flow only after `release`.
   * @throws LinkError in one sentence
   */
  async open(signal: AbortSignal): Promise<Greeting> {
    const opening_us = this.time.now_us();
    await this.port.open().catch((error: Error) => {
      throw openError(this.path, error, process.platform, groupOf(this.path));
    });
    this.arrival_us = this.time.now_us();
    this.device = this.port.device();
    // Not ended with the port: a line that was never finished is then never emitted.
    const cap = new LineCap();
    cap.pipe(new ReadlineParser({ delimiter: '\n', encoding: 'latin1' })).on('data', (line: string) => this.line(line));
    this.port.onData((chunk) => {
      this.arrival_us = this.time.now_us();
      this.count(chunk);
      cap.write(chunk);
    });
    this.port.onClose(() => this.ended('the port closed'));
    try {
      this.greeted = await this.askHello(signal);
      const t_us = await this.ask('p', PING_WITHIN_MS);
      if (await this.settle(this.greeted)) this.greeted = await this.askHello(signal);
      const ran_us = this.time.now_us() - opening_us;
      const certificate = await this.certificate(this.greeted);
      if (this.over) throw this.wentAway();
      const bootedByUs = t_us !== null && t_us / this.greeted.speed < ran_us;
      return { hello: this.greeted, t_us, bootedByUs, certificate };
    } catch (error) {
      await this.close();
      throw error;
    }
  }

  /** Lets the readings that waited for the hello go, and all that follow. */
  release(): void {
    const held = this.held ?? [];
    this.held = null;
    if (this.limits !== null) this.handlers.limits?.(this.limits);
    for (const [reading, arrival_us] of held) this.handlers.reading(reading, arrival_us);
  }

  /** Called while nothing comes: asks for a sign of life, and looks whether the port is still there. */
  probe(): void {
    if (this.device !== null && this.port.device() !== this.device) void this.torn('the port went away');
    else this.send('h');
  }

  /** Asks for the hello again; it comes to `handlers.hello`. */
  sendHello(): void {
    this.send('h');
  }

  /**
   * Asks for the windows from `seq` on, as far as the board still has them; they come as
   * readings. A board that knows no such command is not asked twice.
   */
  sendAgain(seq: number): void {
    if (!this.again.known) return;
    const tag = this.send('r', seq);
    this.again.tag = tag;
  }

  /** Closes the port; resolves when it is closed. Nothing is reported any more. */
  async close(): Promise<void> {
    this.over = true;
    await this.shut();
  }

  /** One closing, however many wait for it; a bound, since a port that was torn out may never tell. */
  private shut(): Promise<void> {
    this.shutting ??= this.port.isOpen ? this.shutNow() : Promise.resolve();
    return this.shutting;
  }

  private async shutNow(): Promise<void> {
    const closed = new AbortController();
    await Promise.race([this.port.close(), pause(this.time, CLOSED_WITHIN_MS, closed.signal)]);
    closed.abort();
  }

  private ended(reason: string): void {
    if (this.over) return;
    this.over = true;
    this.onEarlyEnd?.();
    this.handlers.closed(reason);
  }

  private wentAway(): LinkError {
    return new LinkError(`${this.path} went away while it was being opened; plug the board in again`);
  }

  private send(letter: CommandLetter, value?: number): number {
    this.tag = (this.tag % TAG_MAX) + 1;
    if (letter === 'h') this.helloTags.add(this.tag);
    this.port.write(formatCommand(letter, this.tag, value), (error) => {
      if (error !== null) void this.torn('the port takes nothing any more');
    });
    return this.tag;
  }

  /**
   * A port that takes no writing is gone; the package closes it by itself only after some of
   * the errors. Told only once it is closed: sooner, whoever opens it again would find it in use.
   */
  private async torn(reason: string): Promise<void> {
    if (this.over) return;
    this.over = true;
    this.onEarlyEnd?.();
    await this.shut();
    this.handlers.closed(reason);
  }

  /** Sends a command and waits for its answer's value; null where none comes. */
  private async ask(letter: CommandLetter, within_ms: number, value?: number): Promise<number | null> {
    const back = await this.order(letter, within_ms, value);
    return back?.kind === 'answer' ? back.value : null;
  }

  /**
   * Sends a command and waits for what comes back: its answer, or the refusal with its reason; null where neither
   * comes.
   */
  order(letter: CommandLetter, within_ms: number, value?: number): Promise<Answer | Refusal | null> {
    const tag = this.send(letter, value);
    return new Promise((resolve) => {
      const done = (back: Answer | Refusal | null) => {
        cancel();
        this.pending.delete(tag);
        resolve(back);
      };
      const cancel = this.time.after(within_ms, () => done(null));
      this.pending.set(tag, done);
    });
  }

  /**
   * Brings the board to the settings that are wanted. Returns whether anything was to do; what it took, its next hello
   * tells.
   */
  private async settle(hello: Hello): Promise<boolean> {
    const commands = commandsFor(hello, this.wanted(hello));
    for (const [letter, value] of commands) if (!this.over) await this.ask(letter, PING_WITHIN_MS, value);
    return commands.length > 0;
  }

  /** Asked of a port that nobody else's device is behind: it has said hello. */
  private certificate(hello: Hello): Promise<Certificate | null> {
    if (!keepsNotes(hello) || this.over) return Promise.resolve(null);
    return readCertificate((letter, within_ms, value) => this.order(letter, within_ms, value));
  }

  private askHello(signal: AbortSignal): Promise<Hello> {
    return new Promise((resolve, reject) => {
      const finish = (end: () => void) => {
        stopAsking();
        stopWaiting();
        signal.removeEventListener('abort', aborted);
        this.onHello = this.onEarlyEnd = null;
        end();
      };
      const aborted = () => finish(() => reject(new LinkError(`stopped while ${this.path} was asked for its hello`)));
      const late = () => finish(() => reject(this.noHello()));
      const stopAsking = this.time.every(ASK_EVERY_MS, () => {
        if (this.asks === 'at once' || this.heardOurs) this.send('h');
      });
      const stopWaiting = this.time.after(HELLO_WITHIN_MS, late);
      signal.addEventListener('abort', aborted);
      this.onHello = (hello) => finish(() => resolve(hello));
      this.onEarlyEnd = () => finish(() => reject(this.wentAway()));
      if (signal.aborted) return aborted();
      if (this.asks === 'listening') return;
      // The line end keeps noise of the opening out of the first command's line.
      this.port.write('\n', () => undefined);
      this.send('h');
    });
  }

  private noHello(): LinkError {
    if (this.wrongProto !== null) return wrongProtoError(this.path, this.wrongProto, PROTO);
    const { bytes, unprintable, badLines } = this;
    return noHelloError(this.path, HELLO_WITHIN_MS / 1000, { bytes, unprintable, badLines }, BAUD);
  }

  /** Of what came before the hello: later the lines themselves tell what is wrong. */
  private count(chunk: Buffer): void {
    if (this.greeted !== null) return;
    this.bytes += chunk.length;
    for (const byte of chunk)
      if ((byte < 32 || byte > 126) && byte !== 10 && byte !== 13 && byte !== 9) this.unprintable++;
  }

  private line(text: string): void {
    if (text.length === 0 || this.over) return;
    const line = parseLine(text);
    if (line.kind !== 'bad') this.heardOurs = true;
    switch (line.kind) {
      case 'window':
      case 'voltage':
      case 'status':
      case 'raw':
        return this.reading(line);
      case 'hello':
        return this.hello(line);
      case 'answer':
        this.helloTags.delete(line.tag);
        return this.pending.get(line.tag)?.(line);
      case 'refusal':
        this.helloTags.delete(line.tag);
        if (line.tag === this.again.tag && line.reason === 'unknown') this.again.known = false;
        return this.pending.get(line.tag)?.(line);
      case 'limits':
        if (this.held === null) this.handlers.limits?.(line);
        else this.limits = line;
        return;
      case 'bad':
        return this.bad(line);
    }
  }

  private reading(reading: Reading): void {
    if (this.held === null) return this.handlers.reading(reading, this.arrival_us);
    const last = this.held[this.held.length - 1];
    // Device time that falls tells of a boot while opening: what came before it belongs to no run of ours.
    if (
      (last !== undefined && reading.kind === 'window' && reading.t_us < last[0].t_us) ||
      this.held.length >= HELD_MAX
    )
      this.held = [];
    this.held.push([reading, this.arrival_us]);
  }

  private hello(hello: Hello): void {
    if (this.onHello !== null) this.onHello(hello);
    // The answer to a second question, or a boot just then: the last one tells who it is.
    else if (this.held !== null) this.greeted = hello;
    else {
      const asked = this.helloTags.size > 0;
      this.handlers.hello(hello, asked);
      if (!asked) void this.settle(hello).then((changed) => changed && !this.over && this.sendHello());
    }
  }

  private bad(bad: Bad): void {
    const proto = bad.reason.startsWith('a hello') ? protoOf(bad.line) : null;
    if (proto !== null && proto !== PROTO) this.wrongProto = proto;
    if (this.badLines.push(bad.line) > BAD_LINES_SHOWN) this.badLines.shift();
    if (this.held === null) this.handlers.bad(bad);
  }
}
