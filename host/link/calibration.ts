// Sets a board's calibration: what it reads now, zero and gain measured by the board
// itself, and stored in it (firmware/PROTOCOL.md, "Lines from the host").

import type { Hello, WindowReading } from '../contract/capture.ts';
import { WINDOW_FLAG } from '../contract/capture.ts';
import { pause } from '../contract/time.ts';
import type { Time } from '../contract/time.ts';
import { Connection } from './connection.ts';
import type { Outside } from './connection.ts';
import type { CommandLetter } from './commands.ts';
import { LinkError } from './port-errors.ts';

/** `z` and `g` take a thousand conversions, a little over a second; an emulated board may be slower. */
const ANSWER_WITHIN_MS = 6000;
const READ_MS = 2000;
const READ_WITHIN_MS = 10_000;
/**
 * Where the windows of two seconds differ by more, a known current is not steady yet: a lamp's falls while it warms up.
 */
const SPREAD_SHARE_MAX = 0.01;
/** The same as a plain current: 50 ms windows have a noise of 0.06 mA (firmware/BOARD.md, "Error budget"). */
const SPREAD_mA_MIN = 1;
/** firmware/PROTOCOL.md, `z`: what the board itself refuses. */
const ZERO_LIMIT_uV = 50;
/** firmware/PROTOCOL.md, `g`. */
export const KNOWN_LIMITS_mA = { least: 100, most: 30_000 } as const;
/** firmware/PROTOCOL.md, `u`. */
export const SHUNT_LIMITS_mOhm = { least: 0.1, most: 100 } as const;

/** What flowed in some seconds of windows, milliamperes. */
export interface ReadNow {
  mean_mA: number;
  least_mA: number;
  most_mA: number;
}

export type Change =
  | { what: 'shunt'; shunt_mOhm: number }
  /** No current flows, and the sense wires are on the shunt. */
  | { what: 'zero' }
  | { what: 'gain'; known_mA: number }
  | { what: 'forget' };

export class CalibrationBench {
  private readonly connection: Connection;
  private windows: WindowReading[] = [];
  private gone = false;
  /** What the board says of itself now. */
  hello!: Hello;

  private readonly time: Time;

  constructor(
    private readonly path: string,
    outside: Outside,
  ) {
    this.time = outside.time;
    this.connection = new Connection(
      path,
      {
        reading: (reading) => void (reading.kind === 'window' && this.windows.push(reading)),
        hello: (hello) => void (this.hello = hello),
        bad: () => undefined,
        closed: () => void (this.gone = true),
      },
      outside,
    );
  }

  /** @throws LinkError in one sentence */
  async open(signal: AbortSignal): Promise<void> {
    this.hello = (await this.connection.open(signal)).hello;
    this.connection.release();
  }

  close(): Promise<void> {
    return this.connection.close();
  }

  /** Listens for two seconds. @throws LinkError where nothing comes, or what comes is no measure */
  async read(): Promise<ReadNow> {
    this.windows = [];
    await pause(this.time, READ_MS);
    const wanted = Math.round((READ_MS * 1000) / this.hello.window_us / 2);
    for (let waited_ms = 0; this.windows.length < wanted; waited_ms += 50) {
      if (this.gone) throw new LinkError(`${this.path} went away; plug the board in again`);
      if (waited_ms > READ_WITHIN_MS)
        throw new LinkError(
          `the board at ${this.path} sends no readings; 'nightdraw boards' and BOARD.md tell what may be wrong with its sense chip`,
        );
      await pause(this.time, 50);
    }
    if (this.windows.some((window) => (window.flags & WINDOW_FLAG.clipped) !== 0))
      throw new LinkError('more flows than the board can measure (clipped): take a smaller load');
    const means_mA = this.windows.map((window) => window.mean_uA / 1000);
    return {
      mean_mA: means_mA.reduce((sum, value) => sum + value, 0) / means_mA.length,
      least_mA: Math.min(...means_mA),
      most_mA: Math.max(...means_mA),
    };
  }

  /**
   * Makes one change, stores it in the board, and reads the hello back.
   * @throws LinkError in one sentence; then nothing was stored
   */
  async change(change: Change): Promise<void> {
    switch (change.what) {
      case 'forget':
        await this.order('f');
        break;
      case 'shunt':
        await this.order('u', Math.round(change.shunt_mOhm * 1e6));
        break;
      case 'zero':
        await this.zero();
        break;
      case 'gain':
        await this.gain(change.known_mA);
        break;
    }
    if (change.what !== 'forget') await this.order('k');
    await this.order('h');
  }

  private async zero(): Promise<void> {
    const now = await this.read();
    const limit_mA = (ZERO_LIMIT_uV / this.hello.shunt_nOhm) * 1e6;
    if (Math.abs(now.mean_mA) > limit_mA)
      throw new LinkError(
        `${now.mean_mA.toFixed(1)} mA flow, and a zero needs none: take the lead off the car side and leave the sense wires on the shunt`,
      );
    requireSteady(now);
    await this.order('z');
  }

  private async gain(known_mA: number): Promise<void> {
    const now = await this.read();
    requireSteady(now);
    if (now.mean_mA * known_mA <= 0 || Math.abs(now.mean_mA / known_mA - 1) > 0.06) {
      throw new LinkError(
        `the board reads ${now.mean_mA.toFixed(1)} mA, more than 5 % from ${known_mA} mA: see whether that current flows, the sense wires sit well, and the shunt has ${this.hello.shunt_nOhm / 1e6} mΩ (--shunt); 'nightdraw prove' finds what was built otherwise`,
      );
    }
    await this.order('g', Math.round(known_mA * 1000));
  }

  private async order(letter: CommandLetter, value?: number): Promise<void> {
    const back = await this.connection.order(letter, ANSWER_WITHIN_MS, value);
    if (back === null)
      throw new LinkError(`the board at ${this.path} did not answer; see that it is still plugged in, and try again`);
    if (back.kind === 'refusal') throw new LinkError(REFUSED[back.reason] ?? `the board refused: ${back.reason}`);
  }
}

/** firmware/PROTOCOL.md, "Answers". */
const REFUSED: Record<string, string> = {
  range: 'the board refused: what it measured lies beyond what a calibration may correct (offset 50 µV, gain 5 %)',
  sensor: 'the board has no readings: its sense chip does not answer; see to its wires',
  store:
    'the board could not store it: its memory did not keep what was written; try again, and if it stays so the board is worn out',
  busy: 'the board is measuring something else; try again in a second',
  unknown: "this board's firmware is too old to be calibrated; write the shipped one with 'nightdraw flash'",
};

function requireSteady({ mean_mA, least_mA, most_mA }: ReadNow): void {
  if (most_mA - least_mA > Math.max(SPREAD_mA_MIN, SPREAD_SHARE_MAX * Math.abs(mean_mA))) {
    throw new LinkError(
      `the current is not steady (${least_mA.toFixed(1)} to ${most_mA.toFixed(1)} mA in two seconds): wait a minute until the load is warm, and see that every clamp sits well`,
    );
  }
}
