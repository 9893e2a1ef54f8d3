// A new board while it is proved: one connection kept open from the first question to the last, what it
// sent in each step, what it told beside, and its clock against this computer's.
import type { Hello, VoltageReading, WindowReading } from '../contract/capture.ts';
import { pause } from '../contract/time.ts';
import type { Time } from '../contract/time.ts';
import { Connection } from './connection.ts';
import type { Outside } from './connection.ts';
import { LinkError } from './port-errors.ts';

const ANSWER_WITHIN_MS = 1500;
const PINGS = 6;
const PING_EVERY_MS = 15;

/** Troubles that a board without supply or firmware makes; with the others nothing can be proved. */
const SILENT = new Set(['silent', 'absent']);

export interface ToldSoFar {
  /** Null where none ever came. */
  hello: Hello | null;
  statuses: string[];
  /** It booted unasked. */
  boots: number;
  clock: { board_s: number; host_s: number; doubt_s: number } | null;
}

/** Where both clocks stood: the question was answered somewhere in the `trip_s` before `host_s`. */
export interface Instant {
  host_s: number;
  board_s: number;
  trip_s: number;
}

export class ProvingLink {
  readonly connection: Connection;
  private readonly time: Time;
  private hello: Hello | null = null;
  private statuses: string[] = [];
  private boots = 0;
  private readonly instants: Instant[] = [];
  private windows: WindowReading[] = [];
  private voltages: VoltageReading[] = [];
  private gone = false;

  constructor(
    private readonly path: string,
    outside: Outside,
  ) {
    this.time = outside.time;
    this.connection = new Connection(
      path,
      {
        reading: (reading) => {
          if (reading.kind === 'window') this.windows.push(reading);
          else if (reading.kind === 'voltage') this.voltages.push(reading);
          else if (reading.kind === 'status') this.statuses.push(reading.code);
        },
        hello: (hello, asked) => {
          this.hello = hello;
          if (!asked) this.boots++;
        },
        bad: () => undefined,
        closed: () => void (this.gone = true),
      },
      outside,
    );
  }

  /**
   * Opens the port; a board that says nothing is no error here.
   * @throws LinkError in one sentence: the port is forbidden, busy, or something else is behind it
   */
  async open(signal: AbortSignal): Promise<void> {
    try {
      this.hello = (await this.connection.open(signal)).hello;
    } catch (error) {
      if (error instanceof LinkError && SILENT.has(error.kind)) return;
      throw error;
    }
    this.connection.release();
    await this.takeInstant();
  }

  close(): Promise<void> {
    return this.connection.close();
  }

  async told(): Promise<ToldSoFar> {
    return { hello: this.hello, statuses: [...this.statuses], boots: this.boots, clock: await this.clock() };
  }

  /** @throws LinkError where the port went away */
  async listen(seconds: number): Promise<{ windows: WindowReading[]; voltages: VoltageReading[] }> {
    // What is under way was measured while hands were still at it.
    await pause(this.time, 200);
    this.windows = [];
    this.voltages = [];
    await pause(this.time, seconds * 1000);
    if (this.gone) throw new LinkError(`${this.path} went away; plug the board in again and begin anew`);
    return { windows: this.windows, voltages: this.voltages };
  }

  private async clock(): Promise<ToldSoFar['clock']> {
    // An emulated board of another speed has no clock of its own: its computer paces it as well as it can.
    if (this.hello === null || this.boots > 0 || this.hello.speed !== 1) return null;
    await this.takeInstant();
    return clockOf(this.instants);
  }

  /** The best of some pings: what kept an answer waiting makes the board seem late, never early. */
  private async takeInstant(): Promise<void> {
    let best: Instant | null = null;
    for (let i = 0; i < PINGS; i++) {
      const before_s = this.time.now_us() / 1e6;
      const back = await this.connection.order('p', ANSWER_WITHIN_MS);
      const host_s = this.time.now_us() / 1e6;
      if (back?.kind !== 'answer' || back.value === null) return;
      const one = { host_s, board_s: back.value / 1e6, trip_s: host_s - before_s };
      if (best === null || one.board_s - one.host_s > best.board_s - best.host_s) best = one;
      await pause(this.time, PING_EVERY_MS);
    }
    if (best !== null) this.instants.push(best);
  }
}

/** A computer that is busy, or a converter that gathers bytes, is so late at either end (ours). */
const LATE_S = 0.015;

/**
 * The board's clock against the computer's, from the first instant to the last. The doubt is what both answers
 * took, what a busy computer adds, and how far the instants between lie from the straight line: a crystal that is
 * off keeps to it.
 */
export function clockOf(instants: readonly Instant[]): ToldSoFar['clock'] {
  const [first, last] = [instants[0], instants.at(-1)];
  if (first === undefined || last === undefined || last === first) return null;
  const host_s = last.host_s - first.host_s;
  const board_s = last.board_s - first.board_s;
  const bends = instants.map((one) =>
    Math.abs(one.board_s - first.board_s - (board_s / host_s) * (one.host_s - first.host_s)),
  );
  return { board_s, host_s, doubt_s: first.trip_s + last.trip_s + 2 * LATE_S + Math.max(...bends) };
}
