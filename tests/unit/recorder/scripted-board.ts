// A small board of the test's own, behind a real pseudo-terminal or a port in memory: it
// sends lines that it formats itself, answers h and p, and can be unplugged, reset and disturbed.
import { crc32 } from 'node:zlib';
import { hostClock } from '../../../host/commands/host-clock.ts';
import type { Time } from '../../../host/contract/time.ts';
import { PseudoTerminal } from '../../../host/emulator/pseudo-terminal.ts';

/** A line signed with zlib's CRC-32, not with our own. */
export function signed(body: string): string {
  return `${body} ${crc32(`${body} `).toString(16).toUpperCase().padStart(8, '0')}\n`;
}

const hex = (value: number) => (value < 0 ? `-${(-value).toString(16)}` : value.toString(16));

/** The board's end of a port. */
export interface Terminal {
  /** @throws Error where the name is taken */
  linkAs(path: string): void;
  /** Lost where nobody has the other end open. */
  send(bytes: Buffer): void;
  /** What came since the last call. */
  receive(): Buffer;
  close(): void;
}

/** Where a board is plugged in. */
export interface Socket {
  time: Time;
  terminal: () => Terminal;
}

/** This computer, as its programs see it. */
const REAL: Socket = { time: hostClock, terminal: () => new PseudoTerminal() };

export interface BoardOptions {
  /** Symbolic link that leads to the port, also after it was replugged. */
  link: string;
  id?: number;
  /** Seconds of device time in one of the host's, also told in the hello. */
  speed?: number;
  current_uA?: (window: number) => number;
  /** How often each question for the hello is answered: more than once where the host asked again too soon. */
  hellos?: number;
  /** False: it answers but measures nothing. */
  windows?: boolean;
  /** So many windows it keeps, to send them again; none where it knows no such command. */
  keeps?: number;
}

const WINDOW_US = 50_000;
const POLL_MS = 4;

export class ScriptedBoard {
  private terminal: Terminal | null = null;
  private readonly stopPolling: () => void;
  private received = '';
  private boot = 1;
  private booted_us: number;
  private window = 0;
  private voltage = 0;
  private charge_nC = 0;
  private kept: string[] = [];
  /** Set to change the text of what is sent: damage, repetition. */
  disturb: (line: string) => string = (line) => line;
  /** False: the board runs but sends no windows and answers nothing. */
  talks = true;
  /** False: it answers, but measures nothing. */
  measures: boolean;
  /** All that the host sent. */
  heard = '';
  /** Windows sent since the test began, by what they held. */
  readonly sent: { boot: number; seq: number; mean_uA: number }[] = [];

  constructor(
    private readonly options: BoardOptions,
    private readonly socket = REAL,
  ) {
    this.booted_us = socket.time.now_us();
    this.measures = options.windows ?? true;
    this.plug();
    this.stopPolling = socket.time.every(POLL_MS, () => this.poll());
  }

  /** @param link another name than before, as a port that was renamed has */
  plug(link = this.options.link): void {
    this.terminal = this.socket.terminal();
    this.terminal.linkAs(link);
  }

  unplug(): void {
    this.terminal?.close();
    this.terminal = null;
  }

  /** Loses power or is reset: everything starts again, with a hello that nobody asked for. */
  reset({ announced } = { announced: true }): void {
    this.boot++;
    this.booted_us = this.socket.time.now_us();
    this.window = this.voltage = this.charge_nC = 0;
    this.kept = [];
    if (announced) this.send(this.hello());
  }

  stop(): void {
    this.stopPolling();
    this.unplug();
  }

  /** Raw text onto the wire. */
  send(text: string): void {
    this.terminal?.send(Buffer.from(text, 'latin1'));
  }

  private get now_us(): number {
    return Math.floor((this.socket.time.now_us() - this.booted_us) * (this.options.speed ?? 1));
  }

  private hello(): string {
    const { id = 0xb0a4d, speed = 1 } = this.options;
    return signed(
      `H proto=1 fw=0.0.1 mcu=native sensor=ina228 id=${hex(id)} boot=${hex(this.boot)} cause=power shunt_nOhm=4c4b40 ` +
        `gain_ppm=0 offset_nV=0 window_us=c350 stream=windows speed=${hex(speed)}`,
    );
  }

  private poll(): void {
    if (this.terminal === null) return this.run();
    const came = this.terminal.receive().toString('latin1');
    this.heard += came;
    this.received += came;
    const lines = this.received.split('\n');
    this.received = lines.pop()!;
    for (const line of lines) this.answer(line);
    this.run();
  }

  private answer(line: string): void {
    const [letter, tag] = line.split(' ');
    if (!this.talks || line === '') return;
    if (letter === 'h') this.send((this.hello() + signed(`A ${tag}`)).repeat(this.options.hellos ?? 1));
    if (letter === 'r') this.again(tag!, parseInt(line.split(' ')[2]!, 16));
    if (letter === 'p') this.send(signed(`A ${tag} ${hex(this.now_us)}`));
  }

  private again(tag: string, seq: number): void {
    if (this.options.keeps === undefined) return this.send(signed(`E ${tag} unknown`));
    const first = Math.max(seq, this.window - this.kept.length);
    this.send(signed(`A ${tag} ${hex(first)} ${hex(this.window - first)}`));
    for (const line of this.kept.slice(this.kept.length - (this.window - first))) this.send(line);
  }

  private run(): void {
    // Read once: at a high speed on a busy computer time would run away from the loop.
    const { now_us } = this;
    for (; (this.window + 1) * WINDOW_US <= now_us; this.window++) {
      const mean_uA = this.options.current_uA?.(this.window) ?? 10_000 + (this.window % 100);
      this.charge_nC += (mean_uA * WINDOW_US) / 1000;
      const t_us = (this.window + 1) * WINDOW_US;
      this.kept.push(this.windowLine(mean_uA, t_us));
      if (this.kept.length > (this.options.keeps ?? 0)) this.kept.shift();
      if (!this.talks || !this.measures) continue;
      this.sent.push({ boot: this.boot, seq: this.window, mean_uA });
      this.send(this.disturb(this.windowLine(mean_uA, t_us)));
      if (this.window % 20 === 19)
        this.send(signed(`V ${[this.voltage++, t_us + 100, 12_600, 21_000, 0].map(hex).join(' ')}`));
    }
  }

  private windowLine(mean_uA: number, t_us: number): string {
    return signed(
      `W ${[this.window, t_us, WINDOW_US, 47, mean_uA, mean_uA - 50, mean_uA + 50, this.charge_nC, this.window === 0 ? 32 : 0].map(hex).join(' ')}`,
    );
  }
}
