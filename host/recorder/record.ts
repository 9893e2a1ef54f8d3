// Records a board into a capture until the time is up or somebody stops it. Wires
// link and session, holds the timers, and says in words what happens.

import type { ResumePoint } from '../capture/resume.ts';
import type { Hello, Reading } from '../capture/types.ts';
import type { Greeting } from '../link/connection.ts';
import { openLink } from '../link/link.ts';
import type { Link, LinkHandlers } from '../link/link.ts';
import type { ListPorts } from '../link/ports.ts';
import { canBeSet } from '../link/settings.ts';
import type { WantedSettings } from '../link/settings.ts';
import { AskAgain } from './again.ts';
import { roomBefore, roomNow } from './disk.ts';
import type { LiveFeed } from './live.ts';
import { lockCapture } from './lock.ts';
import { LowBattery } from './low-battery.ts';
import { resumable, Session } from './session.ts';
import type { Progress, SessionOptions } from './session.ts';
import { SleepWatch } from './slept.ts';

export type { HostClock, Progress } from './session.ts';

/** A transaction holds what came in this time: a second may be lost, and half of it is spent on being sure. */
const COMMIT_EVERY_MS = 500;

/** Looks at the disk: often enough that a megabyte a second of somebody else's is seen in time. */
const DISK_EVERY_MS = 2000;

/** A limit that passes while no window comes is waited for this much longer: the last lines may be under way. */
const LIMIT_GRACE_S = 2;

/** A reading that is out of order may come from a boot whose hello was lost: the board is asked, at most this often. */
const ASK_EVERY_US = 1e6;

export interface RecordOptions extends SessionOptions {
  port: string;
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
  /** Called after each transaction with what is on the disk. */
  onProgress(progress: Progress): void;
  /** Battery voltage at which the user is warned; null for never. */
  low_V: number | null;
  /** Gets every reading as it arrives. */
  live?: LiveFeed;
  /** Called with a sentence for the user: the cable was out, the board booted. */
  onNote(text: string): void;
}

export interface RecordSummary extends Progress {
  /** Whether an unfinished capture was gone on with. */
  resumed: boolean;
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
  private readonly lowBattery: LowBattery;
  private readonly sleep: SleepWatch;
  private readonly over: Promise<void>;
  private end!: (failure?: Error) => void;
  private ended = false;

  constructor(private readonly options: RecordOptions, private readonly resume: ResumePoint | null) {
    this.lowBattery = new LowBattery(options.low_V);
    this.sleep = new SleepWatch(options.clock);
    this.over = new Promise((resolve, reject) => {
      this.end = (failure) => {
        this.ended = true;
        if (failure === undefined) resolve();
        else reject(failure);
      };
    });
    // The end may come before `run` looks for it.
    this.over.catch(() => undefined);
  }

  async run(): Promise<RecordSummary> {
    const { port, clock, signal } = this.options;
    const stop = () => this.end();
    signal.addEventListener('abort', stop);
    const timers: NodeJS.Timeout[] = [];
    try {
      this.link = await openLink(port, this.handlers(), () => clock.mono_us(), signal, this.options.listPorts, this.options.wanted);
      timers.push(setInterval(() => this.guarded(() => this.tick()), COMMIT_EVERY_MS));
      timers.push(setInterval(() => this.guarded(() => this.watchDisk()), DISK_EVERY_MS));
      if (signal.aborted) this.end();
      await this.over;
      await this.link.close();
      const progress = this.session!.finish();
      this.options.onProgress(progress);
      return this.summary(progress);
    } catch (error) {
      await this.link?.close();
      this.session?.abandon();
      throw error;
    } finally {
      timers.forEach(clearInterval);
      signal.removeEventListener('abort', stop);
    }
  }

  private summary(progress: Progress): RecordSummary {
    if (progress.recorded_s === 0) {
      throw new Error(`nothing was recorded: the board at ${this.options.port} said hello but sent no window (its sense chip: ${this.session!.board.sensor})`);
    }
    return { ...progress, resumed: this.resume !== null, board: this.session!.board };
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
    if (this.ended) return;
    try {
      work();
    } catch (error) {
      this.end(error as Error);
    }
  }

  private up(greeting: Greeting): string | null {
    const { session, resume, options } = this;
    const known = session?.board ?? resume?.run?.hello;
    if (known !== undefined && known.id !== greeting.hello.id) {
      return `the board at ${options.port} is number ${hex(greeting.hello.id)}, but ${options.out} belongs to board ${hex(known.id)}; plug that one in or give another name`;
    }
    if (session !== null) {
      this.guarded(() => {
        const kept = session.returned(greeting);
        options.onNote(kept ? 'the board is back and kept its power: the charge across the gap is known' : 'the board is back, but it was reset: the charge across the gap is not known');
      });
      return null;
    }
    // The first time there is somebody to throw to: `openLink` hands it on.
    this.session = new Session(options, greeting, resume);
    this.session.settled(greeting.hello);
    this.sayIfOther(greeting.hello);
    return null;
  }

  /** The night is told what it will lack, while somebody is there. */
  private sayIfOther(hello: Hello): void {
    const wanted = this.options.wanted?.(hello) ?? null;
    if (wanted === null || wanted.stream === hello.stream) return;
    const why = canBeSet(hello) ? 'it refused the command' : `its firmware ${hello.fw} knows no other; 'nightdraw flash' brings a newer one`;
    this.options.onNote(`the board sends ${hello.stream}, not ${wanted.stream}: ${why}`);
  }

  private hello(hello: Hello): void {
    const session = this.session!;
    const same = hello.id === session.board.id && hello.boot === session.board.boot;
    // Repeated on the wire, or in answer to a question. A store that fails would count no boots.
    if (same && !session.mixedUp) return session.settled(hello);
    session.booted(hello);
    this.options.onNote(`the board booted (${hello.cause}); recording goes on`);
  }

  private reading(reading: Reading, arrival_us: number): void {
    const session = this.session!;
    const { for_s } = this.options;
    if (for_s !== null && reading.kind === 'window' && session.startOf_s(reading) >= for_s) return this.end();
    const verdict = session.take(reading, arrival_us);
    if (verdict === 'wrong') return this.askWhoItIs(arrival_us);
    if (verdict !== 'known') this.tell(reading, verdict === 'late');
    const from = this.again.due(session.holes, arrival_us);
    if (from !== null) this.link?.askAgain(from);
    if (for_s !== null && session.recorded_s >= for_s) this.end();
  }

  private tell(reading: Reading, late: boolean): void {
    this.options.live?.publish({ reading, late, t_s: this.session!.placeOf_s(reading) });
    const warning = reading.kind === 'voltage' ? this.lowBattery.take(reading.bus_mV / 1000) : null;
    if (warning !== null) this.options.onNote(warning);
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
      this.options.onNote(slept.length_s > 0 ? `this computer slept for ${slept.length_s.toFixed(1)} s; recording goes on` : 'this computer stood still for some seconds; recording goes on');
    }
    const note = session.keepFile();
    if (note !== null) this.options.onNote(note);
    this.options.onProgress(session.commit());
    // A board that is away or has lost its sense chip sends nothing that would end it.
    const limit_s = (for_s ?? Infinity) + LIMIT_GRACE_S * session.board.speed;
    if (session.elapsed_s(clock.mono_us()) >= limit_s) this.end();
  }
}

const hex = (id: number) => id.toString(16).toUpperCase().padStart(8, '0');
