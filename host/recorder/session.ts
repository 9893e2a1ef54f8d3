// One capture while it is recorded: takes what the link hands over, keeps runs,
// order and clocks, and writes it in transactions. Knows neither port nor timers.

import { existsSync, rmSync } from 'node:fs';
import { readResumePoint } from '../capture/store/resume.ts';
import type { ResumePoint } from '../capture/store/resume.ts';
import type {
  BadLine,
  ChipLimits,
  ClockKnot,
  Hello,
  Personal,
  Reading,
  Run,
  WindowReading,
} from '../contract/capture.ts';
import { BAD_LINES_KEPT, createCapture } from '../capture/store/writer.ts';
import type { CaptureWriter } from '../capture/store/writer.ts';
import type { HostClock } from '../contract/time.ts';
import { ClockFit } from '../link/clock.ts';
import type { Greeting } from '../link/connection.ts';
import { HostAxis } from './axis.ts';
import type { Disk } from './disk.ts';
import { KeptFile } from './kept-file.ts';
import { Sequence } from './sequence.ts';
import { away } from './slept.ts';
import type { HostStamp, Slept } from './slept.ts';
import type { Hole, Verdict } from './sequence.ts';

export interface SessionOptions {
  out: string;
  software: string;
  job: string | null;
  origin: Record<string, unknown> | null;
  personal?: Personal;
  clock: HostClock;
  disk: Disk;
}

/** What is on the disk, for the screen. */
export interface Progress {
  /** From the first sample to the end of the last one on the disk, seconds. */
  recorded_s: number;
  /** Wall clock of that end, milliseconds since 1970. */
  recordedTo_ms: number;
  windows: number;
  /** Lines that their numbers say were sent while we listened and did not come, in this session. */
  lostLines: number;
  /** Lines that were not believed, in this session. */
  badLines: number;
  /**
   * What no window covers, from the first that came in this session on: lost lines, and a board that was away. Seconds.
   */
  missing_s: number;
  /** The last ones that came; null before the first. */
  voltage_V: number | null;
  current_mA: number | null;
}

/** With so little doubt this computer's clock is better than the board's for the time that nobody recorded. */
const SURE_S = 0.3;

/** So long the earliest of a boot's lines is looked for. */
const ANCHOR_SETTLES_S = 10;

/** A second of windows, none of which fits the boot that is recorded. */
const MIXED_UP = 20;

export class Session {
  private readonly file: KeptFile;
  private readonly begun_us: number;
  /** Wall clock at the axis' zero: a label. */
  private readonly axis_ms: number;
  private readonly axis: HostAxis;
  private run = 0;
  private hello: Hello;
  private fit: ClockFit;
  private sequence = new Sequence();
  private readings: Reading[] = [];
  private badLines: BadLine[] = [];
  private badLineCount: number;
  /** Of the runs before this one, in this session. */
  private readonly before = { lost: 0, missing_us: 0 };
  /** Whether the board of an unfinished capture kept its power until we came; null for a new one. */
  readonly keptPower: boolean | null;
  /** How sure the length of the gap before the next run is; null: nobody can tell. */
  private doubt_s: number | null = 0;
  /** Sleep of this computer since the run began, and the clock's shift then. */
  private sleep = { slept_us: 0, shift_us: 0 };
  /** A device time of this run and how much of the recording lay behind it then. */
  private anchor: { t_us: number; recorded_s: number } | null = null;
  /** Whether the anchor is where a later boot's first line arrived. */
  private anchorArrived = false;
  /** Axis time of the first sample. */
  private zero_us: number | null;
  private arrived = {
    windows: 0,
    recorded_s: 0,
    arrival_us: 0,
    voltage_V: null as number | null,
    current_mA: null as number | null,
  };

  /**
   * Creates the capture, or goes on with an unfinished one.
   * @param resume what `resumable` said
   * @throws Error in one sentence where the file cannot be written
   */
  constructor(
    private readonly options: SessionOptions,
    greeting: Greeting,
    private readonly resume: ResumePoint | null,
  ) {
    const { out, software, job, origin, clock, personal = {} } = options;
    const wall_ms = clock.wall_ms();
    this.axis_ms = resume?.axis_ms ?? wall_ms;
    this.begun_us = clock.now_us();
    this.hello = greeting.hello;
    const about = { software, created_ms: wall_ms, axis_ms: wall_ms, job, origin, personal };
    if (resume === null) createCapture(out, { kind: 'recorded', ...about, certificate: greeting.certificate ?? null });
    const gone =
      resume === null ? null : away(resume.host ?? { axis_us: 0, wall_ms: resume.axis_ms, up_s: Infinity }, clock);
    // An emulated board at another speed has its night in less time: the axis runs as it does.
    const away_us = gone === null ? 0 : (resume?.host?.axis_us ?? 0) + gone.length_s * 1e6 * greeting.hello.speed;
    this.axis = new HostAxis(Math.max(away_us, resume?.end_us ?? 0), this.begun_us, greeting.hello.speed);
    this.doubt_s = gone === null ? 0 : gone.uncertain_s;
    this.zero_us = resume === null || resume.recorded_s === 0 ? null : resume.end_us - resume.recorded_s * 1e6;
    this.badLineCount = resume?.badLineCount ?? 0;
    this.arrived.recorded_s = resume?.recorded_s ?? 0;
    this.fit = this.newFit();
    this.file = new KeptFile(out, options.disk);
    this.keptPower = resume === null || resume.run === null ? null : this.continues(resume.run.hello, greeting, resume);
    if (this.keptPower === true) this.continueRun(resume!, resume!.run!);
    else this.begin(greeting.hello, resume === null ? 'start' : 'resume');
  }

  private get writer(): CaptureWriter {
    return this.file.writer;
  }

  private newFit(options: { knots?: readonly ClockKnot[]; shift_us?: number; hostSure?: boolean } = {}): ClockFit {
    return new ClockFit(this.hello.speed !== 1, options);
  }

  /** Whether a greeting comes from the boot that the capture's last run holds: then the running charge goes on. */
  private continues(before: Hello, greeting: Greeting, resume: ResumePoint): boolean {
    return sameBoot(before, greeting, Math.max(-1, ...resume.last.map((reading) => reading.t_us)));
  }

  private continueRun(resume: ResumePoint, run: Run): void {
    this.run = run.id;
    this.anchorArrived = false;
    this.fit = this.newFit({
      knots: resume.clock,
      hostSure: this.hello.speed === 1 && this.doubt_s !== null && this.doubt_s <= SURE_S,
    });
    this.sequence.interrupted();
    for (const { kind, seq, t_us } of resume.last) {
      this.sequence.resumeAfter(kind, seq, t_us);
      if (kind === 'window') this.anchor = { t_us, recorded_s: resume.recorded_s };
    }
  }

  private begin(hello: Hello, reason: Run['reason']): void {
    if (hello.speed !== this.hello.speed) this.axis.changeSpeed(hello.speed, this.options.clock.now_us());
    this.hello = hello;
    this.before.lost += this.sequence.lost;
    this.before.missing_us += this.sequence.missing_us;
    this.sequence = new Sequence();
    // The fit finds by itself what the board's clock tells of a sleep; a boot within it leaves that to the host's.
    const shift_us = Math.max(this.fit.shift_us, this.sleep.shift_us + this.sleep.slept_us);
    this.fit = this.newFit({ shift_us });
    this.sleep = { slept_us: 0, shift_us };
    this.anchor = null;
    this.anchorArrived = this.zero_us !== null;
    this.run = this.writer.beginRun({ reason, hello, began_ms: this.options.clock.wall_ms() }, this.doubt_s);
    this.doubt_s = 0;
  }

  /** This computer slept: what follows lies that much later. */
  slept({ length_s, uncertain_s }: Slept): void {
    this.sleep.slept_us += length_s * 1e6 * this.hello.speed;
    this.doubt_s = this.doubt_s === null || uncertain_s === null ? null : this.doubt_s + uncertain_s;
  }

  private stamp(): HostStamp {
    const { clock } = this.options;
    const axis_us =
      this.axis.at(clock.now_us()) + Math.max(this.fit.shift_us, this.sleep.shift_us + this.sleep.slept_us);
    return { axis_us, wall_ms: clock.wall_ms(), up_s: clock.up_s() };
  }

  /** The board that is being recorded. */
  get board(): Hello {
    return this.hello;
  }

  /** The board that is being recorded has other settings than before. @throws Error where the disk refuses */
  settled(hello: Hello): void {
    if (JSON.stringify(hello) === JSON.stringify(this.hello)) return;
    this.hello = hello;
    this.writer.describeRun(this.run, { hello });
  }

  /** What its sense chip can do. @throws as `settled` */
  limited(limits: ChipLimits): void {
    this.writer.describeRun(this.run, { limits });
  }

  /** The board booted while it was recorded. @throws Error where the disk refuses */
  booted(hello: Hello): void {
    this.commit();
    this.begin(hello, 'boot');
  }

  /** The board is back after the cable was out. Returns whether it kept its power. @throws as `booted` */
  returned(greeting: Greeting): boolean {
    const same = sameBoot(this.hello, greeting, this.sequence.windowEnd_us);
    if (same) this.sequence.interrupted();
    else this.booted(greeting.hello);
    return same;
  }

  /**
   * Takes a checked reading; it is on the disk after the next `commit`.
   * @returns where it belongs: what is `known` or `wrong` is not kept
   */
  take(reading: Reading, arrival_us: number): Verdict {
    const verdict = this.sequence.judge(reading);
    if (verdict === 'known' || verdict === 'wrong') return verdict;
    this.readings.push(reading);
    if (verdict === 'late') {
      this.arrived.windows++;
      return verdict;
    }
    const axis_us = this.axis.at(arrival_us);
    // Statuses may wait in the board, and voltages say nothing that windows do not.
    if (reading.kind === 'window') this.takeWindow(reading, axis_us, arrival_us);
    if (reading.kind === 'voltage') this.arrived.voltage_V = reading.bus_mV / 1000;
    return verdict;
  }

  /** Windows of this boot that did not come. */
  get holes(): readonly Hole[] {
    return this.sequence.holes;
  }

  /** Device time of the last window of this boot, -1 before the first. */
  get windowEnd_us(): number {
    return this.sequence.windowEnd_us;
  }

  /** A window behind the end of the recording, not kept: it tells of others before it that did not come. */
  passed(window: WindowReading): void {
    this.sequence.passed(window);
  }

  /** Whether so much came out of order that it must be another boot, whatever the board counts. */
  get mixedUp(): boolean {
    return this.sequence.wrongInRow >= MIXED_UP;
  }

  private takeWindow(window: WindowReading, axis_us: number, arrival_us: number): void {
    this.fit.add(window.t_us, axis_us);
    const now_us = axis_us + this.fit.shift_us;
    this.zero_us ??= now_us - window.dur_us;
    if (this.anchor === null)
      this.before.missing_us += Math.max(0, now_us - window.dur_us - this.zero_us - this.arrived.recorded_s * 1e6);
    this.anchor ??= { t_us: window.t_us, recorded_s: (now_us - this.zero_us) / 1e6 };
    this.settleAnchor(window.t_us, (now_us - this.zero_us) / 1e6);
    this.arrived.recorded_s = this.recordedAt_s(window.t_us);
    this.arrived.windows++;
    this.arrived.arrival_us = arrival_us;
    this.arrived.current_mA = window.mean_uA / 1000;
  }

  /** The first line of a later boot may have come late: what is shown as recorded must not run ahead of the trace. */
  private settleAnchor(t_us: number, arrived_s: number): void {
    const anchor = this.anchor!;
    const since_s = (t_us - anchor.t_us) / 1e6;
    if (this.anchorArrived && since_s < ANCHOR_SETTLES_S)
      anchor.recorded_s = Math.min(anchor.recorded_s, arrived_s - since_s);
  }

  private recordedAt_s(t_us: number): number {
    return this.anchor === null ? this.arrived.recorded_s : this.anchor.recorded_s + (t_us - this.anchor.t_us) / 1e6;
  }

  /** How much of the recording will lie behind a window's start, seconds of the board's time. */
  startOf_s(window: WindowReading): number {
    return this.recordedAt_s(window.t_us - window.dur_us);
  }

  /** Where a reading of this boot lies on the trace, seconds from the first sample; null before there is one. */
  placeOf_s(reading: Reading): number | null {
    return this.anchor === null ? null : this.recordedAt_s(reading.t_us);
  }

  /** From the first sample to the end of the last one that came, seconds of the board's time. */
  get recorded_s(): number {
    return this.arrived.recorded_s;
  }

  /** The same as it would be now if the board were there: what a time limit counts while the cable is out. */
  elapsed_s(now_us: number): number {
    const since_us = this.arrived.windows === 0 ? this.begun_us : this.arrived.arrival_us;
    return this.arrived.recorded_s + ((now_us - since_us) / 1e6) * this.hello.speed;
  }

  /** Notes a line that was not believed. */
  bad(reason: string, line: string): void {
    this.badLineCount++;
    if (this.badLines.length < BAD_LINES_KEPT)
      this.badLines.push({ wall_ms: this.options.clock.wall_ms(), reason, line });
  }

  /**
   * Puts all that came onto the disk.
   * @returns what is there now: only this may be shown as recorded
   * @throws Error in one sentence where the disk refuses; then what was committed before stays
   */
  commit(): Progress {
    if (this.readings.length > 0 || this.badLines.length > 0) {
      this.writer.commit({
        run: this.run,
        readings: this.readings,
        badLines: this.badLines,
        badLineCount: this.badLineCount,
        clock: this.fit.knots(),
        host: this.stamp(),
      });
      this.readings = [];
      this.badLines = [];
    }
    return this.progressNow();
  }

  private progressNow(): Progress {
    const { recorded_s, windows, voltage_V, current_mA } = this.arrived;
    const end_t_us = this.sequence.windowEnd_us;
    const end_us = end_t_us < 0 ? (this.zero_us ?? 0) + recorded_s * 1e6 : this.fit.at(end_t_us);
    return {
      recorded_s,
      windows,
      voltage_V,
      current_mA,
      recordedTo_ms: this.axis_ms + end_us / 1000,
      lostLines: this.before.lost + this.sequence.lost,
      badLines: this.badLineCount - (this.resume?.badLineCount ?? 0),
      missing_s: (this.before.missing_us + this.sequence.missing_us) / 1e6,
    };
  }

  /** Sees that the capture is still where it was: see `KeptFile.look`. */
  keepFile(): string | null {
    return this.file.look();
  }

  /**
   * Ends the recording: everything on the disk, one file. A new capture that got no
   * sample is taken away again.
   */
  finish(): Progress {
    const progress = this.commit();
    this.writer.finish();
    if (progress.recorded_s === 0 && this.resume === null) rmSync(this.options.out, { force: true });
    return progress;
  }

  /** Leaves the capture unfinished, as after a crash: it can be resumed. */
  abandon(): void {
    this.writer.close();
  }
}

function sameBoot(before: Hello, { hello, t_us }: Greeting, last_t_us: number): boolean {
  return (
    hello.id === before.id &&
    hello.boot === before.boot &&
    hello.speed === before.speed &&
    (t_us === null || t_us >= last_t_us)
  );
}

/**
 * Where recording into `out` would begin: null for a new file.
 * @throws Error in one sentence where `out` exists and is no unfinished capture
 */
export function resumable(out: string): ResumePoint | null {
  if (!existsSync(out)) return null;
  return readResumePoint(out);
}
