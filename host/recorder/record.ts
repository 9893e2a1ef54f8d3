// Records a board into a capture until the time is up or somebody stops it. Wires
// link and session, holds the timers, and says in words what happens.

import type { ResumePoint } from '../capture/store/resume.ts';
import type { Hello, Reading } from '../contract/capture.ts';
import { pause } from '../contract/time.ts';
import type { Greeting } from '../link/connection.ts';
import { openLink } from '../link/link.ts';
import type { Link, LinkHandlers } from '../link/link.ts';
import type { OpenPort } from '../link/port.ts';
import type { ListPorts } from '../link/ports.ts';
import { canBeSet } from '../link/settings.ts';
import type { WantedSettings } from '../link/settings.ts';
import { AskAgain } from './again.ts';
import { boardNumber, causeInWords } from '../say/board.ts';
import { BoardFaults, greetingCause } from './board-words.ts';
import { roomBefore, roomNow } from './disk.ts';
import type { LiveFeed } from './live.ts';
import { lockCapture } from './lock.ts';
import { LowBattery } from './low-battery.ts';
import { resumable, Session } from './session.ts';
import type { Progress, SessionOptions } from './session.ts';
import { SleepWatch } from './slept.ts';

export type { Progress } from './session.ts';

/** A transaction holds what came in this time: a second may be lost, and half of it is spent on being sure. */
const COMMIT_EVERY_MS = 500;

/** Looks at the disk: often enough that a megabyte a second of somebody else's is seen in time. */
const DISK_EVERY_MS = 2000;

/**
 * A limit that passes while no window comes is waited for this many commits longer: the last
 * lines may be under way. Counted in turns of this program: one that stood still has not looked yet.
 */
const GRACE_TURNS = 4;

/** At the end, windows that are missing are waited for this long, in steps of the other. */
const LAST_WAIT_MS = 700;
const LAST_STEP_MS = 20;

/** A reading that is out of order may come from a boot whose hello was lost: the board is asked, at most this often. */
const ASK_EVERY_US = 1e6;

export interface RecordOptions extends SessionOptions {
  port: string;
  openPort: OpenPort;
  /** Where the board is looked for when its port comes back under another name. */
  listPorts: ListPorts;
  /** What a second of it takes on disk at most; absent: windows alone. */
  bytesPerS?: number;
  /** What the board is to send; absent: whatever it sends. */
  wanted?: WantedSettings;
  /** Length of the recording in the board's (the car's) time, from the capture's first sample; null for no end. */
  for_s: number | null;
  /** Ends the recording cleanly. */
  signal: AbortSignal;
  /** Called after each transaction with what is on the disk, and how it stands with the board. */
  onProgress(progress: Progress, state: BoardState): void;
  /** Battery voltage at which the user is warned; null for never. */
  low_V: number | null;
  /** Gets every reading as it arrives. */
  live?: LiveFeed;
  /** Called with a sentence for the user: the cable was out, the board booted. */
  onNote(text: string): void;
}

/** `away`: its port is gone. `faulty`: it is there and measures nothing. */
export type BoardState = 'measuring' | 'away' | 'faulty';

export interface RecordSummary extends Progress {
  /** Where an unfinished capture was gone on with, seconds from its first sample; null for a new one. */
  resumedAt_s: number | null;
  board: Hello;
}

/**
 * Records `port` into `out`.
 * @throws Error in one sentence: `out` may not be written or is no unfinished capture of this board,
 *   it is being recorded already, the port is missing, busy, forbidden or no board, or the disk refused
 *   (then all that was shown as recorded stays, and the capture can be resumed).
 */
export async function record(options: RecordOptions): Promise<RecordSummary> {
  const warning = roomBefore(options.disk, options.out, options.for_s, options.bytesPerS);
  if (warning !== null) options.onNote(warning);
  const lock = lockCapture(options.out);
  try {
    return await new Recording(options, resumable(options.out)).run();
  } finally {
    lock.release();
  }
}

class Recording {
  private session: Session | null = null;
  private link: Link | null = null;
  private asked_us = -Infinity;
  private readonly again = new AskAgain();
  private readonly faults = new BoardFaults();
  private readonly lowBattery: LowBattery;
  private readonly sleep: SleepWatch;
  private readonly over: Promise<void>;
  private end!: (failure?: Error) => void;
  private failure: Error | null = null;
  /** Commits since the time was up. */
  private overdue = 0;

  constructor(
    private readonly options: RecordOptions,
    private readonly resume: ResumePoint | null,
  ) {
    this.lowBattery = new LowBattery(options.low_V);
    this.sleep = new SleepWatch(options.clock);
    this.over = new Promise((resolve, reject) => {
      this.end = (failure) => {
        if (failure === undefined) return resolve();
        this.failure ??= failure;
        reject(failure);
      };
    });
    // The end may come before `run` looks for it.
    this.over.catch(() => undefined);
  }

  async run(): Promise<RecordSummary> {
    const { port, clock, signal } = this.options;
    const stop = () => this.end();
    signal.addEventListener('abort', stop);
    const timers: (() => void)[] = [];
    try {
      this.link = await openLink(
        port,
        this.handlers(),
        { time: clock, openPort: this.options.openPort, listPorts: this.options.listPorts },
        signal,
        this.options.wanted,
      );
      timers.push(clock.every(COMMIT_EVERY_MS, () => this.guarded(() => this.tick())));
      timers.push(clock.every(DISK_EVERY_MS, () => this.guarded(() => this.watchDisk())));
      if (signal.aborted) this.end();
      await this.over;
      await this.lastOnes(this.session!);
      await this.link.close();
      // The disk may have refused while the last ones were waited for.
      if (this.failure !== null) throw this.failure;
      const progress = this.session!.finish();
      this.options.onProgress(progress, this.state);
      return this.summary(progress);
    } catch (error) {
      await this.link?.close();
      this.session?.abandon();
      throw error;
    } finally {
      timers.forEach((stop) => stop());
      signal.removeEventListener('abort', stop);
    }
  }

  /** What is missing of the last second is asked for before the port is closed: nobody can do it later. */
  private async lastOnes(session: Session): Promise<void> {
    const { clock } = this.options;
    const limit_us = clock.now_us() + LAST_WAIT_MS * 1000;
    while (
      this.failure === null &&
      clock.now_us() < limit_us &&
      this.link?.isUp === true &&
      this.again.hopeful(session.holes, session.windowEnd_us, clock.now_us())
    ) {
      this.askAgain(session, clock.now_us());
      await pause(clock, LAST_STEP_MS);
    }
  }

  private askAgain(session: Session, now_us: number): void {
    const from = this.again.due(session.holes, now_us);
    if (from !== null) this.link?.askAgain(from);
  }

  private summary(progress: Progress): RecordSummary {
    if (progress.recorded_s === 0) {
      throw new Error(
        `nothing was recorded: the board at ${this.options.port} said hello but sent no window (its sense chip: ${this.session!.board.sensor})`,
      );
    }
    return { ...progress, resumedAt_s: this.resume?.recorded_s ?? null, board: this.session!.board };
  }

  private handlers(): LinkHandlers {
    return {
      up: (greeting) => this.up(greeting),
      down: (reason) => this.options.onNote(`the board is away (${reason}); recording goes on when it is back`),
      reading: (reading, arrival_us) => this.guarded(() => this.reading(reading, arrival_us)),
      hello: (hello) => this.guarded(() => this.hello(hello)),
      bad: (bad) => this.session?.bad(bad.reason, bad.line),
      limits: (limits) => this.guarded(() => this.session?.limited(limits)),
    };
  }

  /** Runs what may meet a refusing disk: that ends the recording, not the program. */
  private guarded(work: () => void): void {
    if (this.failure !== null) return;
    try {
      work();
    } catch (error) {
      this.end(error as Error);
    }
  }

  private get state(): BoardState {
    if (this.link?.isUp !== true) return 'away';
    return this.faults.faulty ? 'faulty' : 'measuring';
  }

  private up(greeting: Greeting): string | null {
    const { session, resume, options } = this;
    const known = session?.board ?? resume?.run?.hello;
    if (known !== undefined && known.id !== greeting.hello.id) {
      return `the board at ${options.port} is number ${boardNumber(greeting.hello.id)}, but ${options.out} belongs to board ${boardNumber(known.id)}; plug that one in or give another name`;
    }
    if (session !== null) {
      this.guarded(() => {
        const kept = session.returned(greeting);
        options.onNote(
          kept
            ? 'the board is back and kept its power: the charge across the gap is known'
            : `the board is back, but it was reset (${greetingCause(greeting)}): ${UNKNOWN}`,
        );
      });
      return null;
    }
    // The first time there is somebody to throw to: `openLink` hands it on.
    this.session = new Session(options, greeting, resume);
    const { keptPower } = this.session;
    if (keptPower !== null) {
      options.onNote(
        `going on with ${options.out}; ${keptPower ? 'the board kept its power: the charge across the gap is known' : `the board was reset since (${greetingCause(greeting)}): ${UNKNOWN}`}`,
      );
    }
    this.session.settled(greeting.hello);
    this.sayIfOther(greeting.hello);
    return null;
  }

  /** The night is told what it will lack, while somebody is there. */
  private sayIfOther(hello: Hello): void {
    const wanted = this.options.wanted?.(hello) ?? null;
    if (wanted === null || wanted.stream === hello.stream) return;
    const why = canBeSet(hello)
      ? 'it refused the command'
      : `its firmware ${hello.fw} knows no other; 'nightdraw flash' brings a newer one`;
    this.options.onNote(`the board sends ${hello.stream}, not ${wanted.stream}: ${why}`);
  }

  private hello(hello: Hello): void {
    const session = this.session!;
    const same = hello.id === session.board.id && hello.boot === session.board.boot;
    // Repeated on the wire, or in answer to a question. A store that fails would count no boots.
    if (same && !session.mixedUp) return session.settled(hello);
    session.booted(hello);
    this.options.onNote(`the board booted (${causeInWords(hello.cause)}); recording goes on, ${UNKNOWN}`);
  }

  private reading(reading: Reading, arrival_us: number): void {
    const session = this.session!;
    const { for_s } = this.options;
    if (for_s !== null && reading.kind === 'window' && session.startOf_s(reading) >= for_s) {
      session.passed(reading);
      return this.end();
    }
    const verdict = session.take(reading, arrival_us);
    if (verdict === 'wrong') return this.askWhoItIs(arrival_us);
    if (verdict !== 'known') this.tell(reading, verdict === 'late');
    this.askAgain(session, arrival_us);
    if (for_s !== null && session.recorded_s >= for_s) this.end();
  }

  private tell(reading: Reading, late: boolean): void {
    this.options.live?.publish({ reading, late, t_s: this.session!.placeOf_s(reading) });
    const notes = [
      reading.kind === 'voltage' ? this.lowBattery.take(reading.bus_mV / 1000) : null,
      reading.kind === 'status' ? this.faults.take(reading) : null,
      reading.kind === 'window' && !late ? this.faults.measured() : null,
    ];
    for (const note of notes) if (note !== null) this.options.onNote(note);
  }

  private askWhoItIs(now_us: number): void {
    if (now_us - this.asked_us < ASK_EVERY_US) return;
    this.asked_us = now_us;
    this.link?.askHello();
  }

  /** Ends with an error and leaves the capture unfinished, so that it can be gone on with. */
  private watchDisk(): void {
    const reason = roomNow(this.options.disk, this.options.out);
    if (reason === null) return;
    this.tick();
    throw new Error(reason);
  }

  private tick(): void {
    const { for_s, clock } = this.options;
    const session = this.session!;
    const slept = this.sleep.look();
    if (slept !== null) {
      session.slept(slept);
      this.options.onNote(
        slept.length_s > 0
          ? `this computer slept for ${slept.length_s.toFixed(1)} s; recording goes on`
          : 'this computer stood still for some seconds; recording goes on',
      );
    }
    const note = session.keepFile();
    if (note !== null) this.options.onNote(note);
    this.options.onProgress(session.commit(), this.state);
    // A board that is away or has lost its sense chip sends nothing that would end it.
    this.overdue = session.elapsed_s(clock.now_us()) >= (for_s ?? Infinity) ? this.overdue + 1 : 0;
    if (this.overdue > GRACE_TURNS) this.end();
  }
}

const UNKNOWN = 'the charge across the gap is an estimate';
