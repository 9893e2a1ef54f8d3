// The emulated board behind a wire that can be torn out and that damages lines. It
// keeps a ledger of every window that the board really sent and what became of it.
import { EmulatedBoard } from '../../../host/emulator/board.ts';
import type { CarSpec } from '../../../host/emulator/car/spec.ts';
import { PseudoTerminal } from '../../../host/emulator/pseudo-terminal.ts';
import { parseLine } from '../../../host/link/lines.ts';
import type { WindowReading } from '../../../host/contract/capture.ts';
import { IMAGE } from '../board-run.ts';

/** `damaged` must never be in a capture, `heard` must unless the recorder had no time to keep it, `unsure` may. */
export type Fate = 'heard' | 'unsure' | 'damaged';

export interface SentWindow {
  boot: number;
  window: WindowReading;
  fate: Fate;
  /** Host time at which it was on the wire, milliseconds of `performance.now`. */
  at_ms: number;
  /** The car's time then. */
  car_s: number;
}

export interface TamperedOptions {
  link: string;
  car: CarSpec;
  seed: number;
  id?: number;
  /** 0 to 1. */
  random: () => number;
}

const TURN_MS = 5;
/** What is run at once when the computer was late. */
const SLICE_MS = 25;
/** A port that was just opened is flushed by whoever opened it. */
const OPENING_MS = 500;

export class TamperedBoard {
  readonly sent: SentWindow[] = [];
  readonly board: EmulatedBoard;
  /** Share of lines that the wire damages. */
  damage = 0;
  /** Lines damaged so far, by how. */
  readonly damages: Record<string, number> = {};
  /**
   * How late this process's own timer was at most since `lag_ms` was set to 0: the computer's doing, not the
   * recorder's.
   */
  lag_ms = 0;
  private terminal: PseudoTerminal | null = null;
  private readonly timer: NodeJS.Timeout;
  private line = '';
  private boot = 0;
  private began_ms = -1;
  private opened_ms = Infinity;
  private turned_ms = performance.now();
  private held: { text: string; entry: SentWindow | null; first: SentWindow | null } | null = null;
  private readonly first = new Map<string, SentWindow>();
  private wireOpen = false;

  constructor(private readonly options: TamperedOptions) {
    const { car, seed, id = 1 } = options;
    this.board = new EmulatedBoard({ image: IMAGE, car, seed, id, speed: 1, onByte: (byte) => this.byte(byte) });
    this.plug();
    this.timer = setInterval(() => this.turn(), TURN_MS);
  }

  plug(): void {
    this.terminal = new PseudoTerminal();
    this.terminal.linkAs(this.options.link);
  }

  unplug(): void {
    this.terminal?.close();
    this.terminal = null;
    this.opened_ms = Infinity;
  }

  stop(): void {
    clearInterval(this.timer);
    this.unplug();
  }

  private turn(): void {
    const now_ms = performance.now();
    this.lag_ms = Math.max(this.lag_ms, now_ms - this.turned_ms - TURN_MS);
    this.turned_ms = now_ms;
    const received = this.terminal?.receive() ?? Buffer.alloc(0);
    if (this.terminal?.isOpen !== true) this.opened_ms = Infinity;
    else if (this.opened_ms === Infinity) this.opened_ms = now_ms;
    // Whoever opens it begins with a line of their own.
    if (this.opened_ms === Infinity || this.opened_ms === now_ms) this.wireOpen = false;
    if (this.began_ms < 0) this.began_ms = now_ms;
    if (received.length > 0) this.board.send(received);
    const due_ms = now_ms - this.began_ms - this.board.time_s * 1000;
    if (due_ms > 0) this.board.runFor(Math.min(due_ms, SLICE_MS) / 1000);
  }

  private byte(byte: number): void {
    if (byte !== 10) this.line += String.fromCharCode(byte);
    else {
      this.whole(this.line);
      this.line = '';
    }
  }

  private whole(text: string): void {
    const parsed = parseLine(text);
    // A boot may cut a line short: its hello then stands behind what there was of it.
    const hello = parseLine(text.slice(Math.max(0, text.lastIndexOf('H proto='))));
    if (hello.kind === 'hello') this.boot = hello.boot;
    if (parsed.kind !== 'window') return this.wire(text, null);
    const entry: SentWindow = {
      boot: this.boot,
      window: parsed,
      fate: 'unsure',
      at_ms: performance.now(),
      car_s: this.board.time_s,
    };
    const key = `${entry.boot}/${parsed.seq}`;
    const first = this.first.get(key);
    if (first === undefined) {
      this.first.set(key, entry);
      this.sent.push(entry);
    }
    this.wire(text, entry, first ?? null);
  }

  /** @param first the same window as it was sent before: what the host asked for again */
  private wire(text: string, entry: SentWindow | null, first: SentWindow | null = null): void {
    const { random } = this.options;
    const before = this.held;
    this.held = null;
    const how = random() < this.damage ? HOWS[Math.floor(random() * HOWS.length)]! : 'none';
    if (how !== 'none') this.damages[how] = (this.damages[how] ?? 0) + 1;
    if (how === 'reorder' && before === null) {
      this.held = { text, entry, first };
      return;
    }
    const bent = how === 'none' || how === 'reorder' ? `${text}\n` : bend(how, text, random);
    const spoiled = !bent.includes(`${text}\n`);
    this.put(bent, entry, spoiled, false, first);
    // The line that was held back comes behind its successor: too late to be taken as the next.
    if (before !== null) this.put(`${before.text}\n`, before.entry, false, true, before.first);
  }

  private put(
    text: string,
    entry: SentWindow | null,
    spoiled: boolean,
    late = false,
    first: SentWindow | null = null,
  ): void {
    const joined = this.wireOpen;
    if (text !== '' && this.terminal?.isOpen === true) this.wireOpen = !text.endsWith('\n');
    const now_ms = performance.now();
    this.terminal?.send(Buffer.from(text, 'latin1'));
    if (entry === null) return;
    const settled = now_ms - this.opened_ms > OPENING_MS && this.terminal?.waiting === 0;
    entry.at_ms = now_ms;
    // Repeated behind a torn line, the second one is whole.
    if (spoiled || (joined && text.indexOf('\n') === text.length - 1)) entry.fate = 'damaged';
    else entry.fate = settled && !late && !joined ? 'heard' : 'unsure';
    // Sent again, and whole this time.
    if (first !== null && first.fate === 'damaged' && entry.fate !== 'damaged') first.fate = 'unsure';
  }
}

const HOWS = ['cut', 'merge', 'flip', 'repeat', 'reorder', 'noise', 'drop'] as const;

/** What a bad wire makes of a line: with its LF or without. */
function bend(how: (typeof HOWS)[number], text: string, random: () => number): string {
  const at = Math.floor(random() * text.length);
  switch (how) {
    case 'cut':
      return `${text.slice(0, at)}${random() < 0.5 ? '\n' : ''}`;
    case 'merge':
      return text;
    case 'flip':
      return `${text.slice(0, at)}${String.fromCharCode(text.charCodeAt(at) ^ (1 << Math.floor(random() * 8)))}${text.slice(at + 1)}\n`;
    case 'repeat':
      return `${text}\n${text}\n`;
    case 'noise':
      return `${'\u0000\u00ff~'.repeat(1 + Math.floor(random() * 200))}\n${text}\n`;
    case 'drop':
      return '';
    default:
      return `${text}\n`;
  }
}
