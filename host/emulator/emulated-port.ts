// The emulated board offered as a serial port: paced to the host's clock, or to a
// multiple of it, in slices short enough for lines to arrive as they would. It gets
// power, and the car is left, when the port is first opened: a recording sees the
// whole night, and a board that nobody looks at costs nothing.
import { EmulatedBoard } from './board.ts';
import type { BoardFault, BoardStats, Wiring } from './board.ts';
import type { Scenario } from './car/spec.ts';
import { SwitchedCar } from './car/switched.ts';
import { Hands } from './hands.ts';
import { PseudoTerminal } from './pseudo-terminal.ts';
import type { SensedInputs, SpecimenErrors } from './sense-chip.ts';

/** Longest stretch run at once, in host time: other work of the process waits no longer. */
const SLICE_MS = 10;
/** Pause between looks at the clock while there is nothing to do. */
const REST_MS = 5;
/** A stall this long is caught up; what is beyond it is given up, and said. */
const BEHIND_MS_MAX = 5000;
/** With so much unread, device time waits for the reader. */
const UNREAD_BYTES_MAX = 16384;
/** Number of an emulated board that was given none. */
const DEFAULT_ID = 1;

export interface EmulatedPortOptions {
  /** Firmware image, Intel HEX text. */
  image: string;
  scenario: Scenario;
  /** Seconds of device time in one of the host's: a whole number. */
  speed: number;
  /** Name of a symbolic link to the device. */
  link?: string;
  /** File that names what is pulled and unplugged; a scenario with a car that can be `switched` obeys it. */
  hands?: string;
  /** Instead of the scenario's. */
  seed?: number;
  id?: number;
  /** Of this specimen of the sense chip. */
  errors?: SpecimenErrors;
  /** What lies at the sense chip's pins, in place of what the car makes there. */
  pins?: SensedInputs;
  wiring?: Wiring;
  log: (line: string) => void;
  /** Milliseconds on a clock that never goes back, such as `performance.now`. */
  now_ms: () => number;
}

export interface EmulatedPortStats extends BoardStats {
  /** Whether a program has the port open. */
  open: boolean;
}

export interface EmulatedPort {
  /** Device path to open. */
  path: string;
  stats(): EmulatedPortStats;
  reset(cause: 'power' | 'pin' | 'brownout'): void;
  setFault(fault: BoardFault): void;
  close(): void;
  /** Null after `close`; the error where the emulation could not go on. */
  ended: Promise<Error | null>;
}

/**
 * Starts a board; it runs until `close`.
 * @throws RangeError for a speed or id out of range, Error for a bad image, a link name in use, or hands at a car that
 * cannot be switched.
 */
export function startEmulatedBoard(options: EmulatedPortOptions): EmulatedPort {
  return new PacedBoard(options);
}

class PacedBoard implements EmulatedPort {
  readonly path: string;
  readonly ended: Promise<Error | null>;
  private readonly board: EmulatedBoard;
  private readonly hands: Hands | null;
  private readonly switched: SwitchedCar | null;
  private readonly terminal: PseudoTerminal;
  private readonly removeAtExit = () => this.close();
  private end!: (error: Error | null) => void;
  private timer: NodeJS.Timeout | NodeJS.Immediate | null = null;
  private output: number[] = [];
  /** Host time at which device time was 0. */
  private start_ms = 0;
  private powered = false;
  private toldSlow = false;
  private closed = false;

  constructor(private readonly options: EmulatedPortOptions) {
    const { image, scenario, speed, link } = options;
    this.hands = options.hands === undefined ? null : new Hands(options.hands);
    if (this.hands !== null && scenario.switched === undefined)
      throw new Error(`hands cannot pull anything at the car of scenario ${scenario.name}`);
    this.switched = this.hands === null ? null : new SwitchedCar(scenario.switched!);
    this.board = new EmulatedBoard({
      image,
      ...(this.switched !== null && { switched: this.switched }),
      car: scenario.car,
      ...(options.errors && { errors: options.errors }),
      ...(options.pins && { pins: options.pins }),
      ...(options.wiring && { wiring: options.wiring }),
      seed: options.seed ?? scenario.seed,
      id: options.id ?? DEFAULT_ID,
      speed,
      onByte: (byte) => this.output.push(byte),
    });
    this.terminal = new PseudoTerminal();
    this.path = this.terminal.path;
    try {
      if (link !== undefined) this.terminal.linkAs(link);
    } catch (error) {
      this.terminal.close();
      throw error;
    }
    this.ended = new Promise((resolve) => (this.end = resolve));
    process.once('exit', this.removeAtExit);
    this.timer = setTimeout(() => this.turn(), 0);
  }

  stats(): EmulatedPortStats {
    return { ...this.board.stats(), open: this.terminal.isOpen };
  }

  reset(cause: 'power' | 'pin' | 'brownout'): void {
    this.board.reset(cause);
  }

  setFault(fault: BoardFault): void {
    this.board.setFault(fault);
  }

  close(): void {
    this.stop(null);
  }

  private stop(error: Error | null): void {
    if (this.closed) return;
    this.closed = true;
    if (this.timer !== null) clearTimer(this.timer);
    process.removeListener('exit', this.removeAtExit);
    this.terminal.close();
    this.end(error);
  }

  private turn(): void {
    try {
      const behind_ms = this.slice();
      const late = behind_ms > SLICE_MS && this.terminal.waiting <= UNREAD_BYTES_MAX;
      this.timer = late ? setImmediate(() => this.turn()) : setTimeout(() => this.turn(), REST_MS);
    } catch (error) {
      this.stop(error instanceof Error ? error : new Error(String(error)));
    }
  }

  /** Runs one slice; returns how far device time is behind, in host time. */
  private slice(): number {
    const { speed, now_ms } = this.options;
    const received = this.terminal.receive();
    if (!this.powered) {
      if (!this.terminal.isOpen) return 0;
      this.powered = true;
      this.start_ms = now_ms();
    }
    if (received.length > 0) this.board.send(received);
    const out = this.hands?.changed(now_ms()) ?? null;
    if (out !== null) this.switched!.switch(out, this.board.time_s);
    const due_ms = now_ms() - this.start_ms - (this.board.time_s * 1000) / speed;
    if (this.terminal.waiting <= UNREAD_BYTES_MAX && due_ms > 0)
      this.board.runFor((Math.min(due_ms, SLICE_MS) * speed) / 1000);
    this.terminal.send(Buffer.from(this.output));
    this.output = [];
    return this.giveUpBeyond(now_ms() - this.start_ms - (this.board.time_s * 1000) / speed);
  }

  private giveUpBeyond(behind_ms: number): number {
    if (behind_ms <= BEHIND_MS_MAX) return behind_ms;
    this.start_ms += behind_ms - BEHIND_MS_MAX;
    if (!this.toldSlow) {
      this.toldSlow = true;
      const reason =
        this.terminal.waiting > UNREAD_BYTES_MAX
          ? 'the program that has the port open does not read'
          : 'this computer is too slow for it';
      this.options.log(
        `emulated board: speed ${this.options.speed} is not kept up, ${reason}; it goes on as fast as it can`,
      );
    }
    return BEHIND_MS_MAX;
  }
}

function clearTimer(timer: NodeJS.Timeout | NodeJS.Immediate): void {
  clearTimeout(timer as NodeJS.Timeout);
  clearImmediate(timer as NodeJS.Immediate);
}
