// One recording from the server: what it is doing, told to the live stream as it goes.

import { LiveFeed } from '../../recorder/live.ts';
import type { KeptWork } from '../../bay/work/kept-work.ts';
import type { LiveReading } from '../../recorder/live.ts';
import { BYTES_PER_S_OF, STOP_BELOW_BYTES } from '../../recorder/disk.ts';
import type { Progress } from '../../recorder/record.ts';
import type { Personal } from '../../contract/capture.ts';
import type { HostClock } from '../../contract/time.ts';
import type { LiveEventName, LivePicture, LiveStep, LiveWindow, Recording } from '../../contract/api.ts';
import { LineQuality } from './line-quality.ts';
import { StepWatch } from './step-watch.ts';
import { liveWindow, Recent, thinned } from './windows.ts';
import type { Workbench } from './workbench.ts';

/** Windows that come within this are one event: far below the 200 ms that a trace may lag. */
const TOGETHER_MS = 40;
/** A board sends twenty times a second; nothing for this long is told. */
const AWAY_S = 1.5;
const NOTES_MAX = 20;
const STEPS_MAX = 100;
const SPACE_EVERY_MS = 2000;

export interface RecordingPlan {
  name: string;
  path: string;
  board: Recording['board'];
  job: string;
  personal: Personal;
  for_s: number | null;
  /** Work in the bay beside it. */
  bay: KeptWork | null;
}

/** Ends a recording so that the next run of the server goes on with it. */
class LeaveUnfinished extends Error {}

export class OneRecording {
  private state: Recording['state'] = 'starting';
  private readonly stopper = new AbortController();
  private readonly began_ms: number;
  private leaving = false;
  private progress: Progress | null = null;
  private elapsed_s = 0;
  private current_mA: number | null = null;
  private voltage_V: number | null = null;
  private heard_ms: number;
  private free: { at_ms: number; bytes: number | null } | null = null;
  private readonly notes: Recording['notes'] = [];
  private trouble: string | null = null;
  private readonly quality = new LineQuality();
  private readonly watch = new StepWatch();
  private readonly steps: LiveStep[] = [];
  private readonly recent = new Recent();
  private fresh: LiveWindow[] = [];
  private stopFlushing: (() => void) | null = null;
  private onStarted: () => void = () => undefined;
  /** Resolves when it records, or has failed to. */
  readonly started: Promise<void>;
  /** Resolves when it is over, however it ended. */
  readonly over: Promise<void>;

  constructor(
    readonly plan: RecordingPlan,
    private readonly bench: Workbench,
    private readonly send: (name: LiveEventName, data: unknown) => void,
    private readonly clock: HostClock,
  ) {
    plan.bay?.onView((view) => send('bay', { name: plan.name, view }));
    this.began_ms = clock.wall_ms();
    this.heard_ms = this.now_ms();
    this.started = new Promise((resolve) => (this.onStarted = resolve));
    this.over = this.run();
  }

  get running(): boolean {
    return this.state !== 'ended' && this.state !== 'failed';
  }

  private now_ms(): number {
    return this.clock.now_us() / 1000;
  }

  private async run(): Promise<void> {
    const { path, board, job, personal, for_s } = this.plan;
    const live = new LiveFeed();
    live.subscribe((reading) => this.take(reading));
    try {
      await this.bench.record({
        port: board.port,
        out: path,
        job: job === '' ? null : job,
        personal,
        for_s,
        signal: this.stopper.signal,
        live,
        onProgress: (progress) => this.onProgress(progress),
        onNote: (text) => this.note(text),
      });
      this.state = 'ended';
    } catch (error) {
      const asked = error instanceof LeaveUnfinished || (this.stopper.signal.aborted && this.progress === null);
      this.state = asked ? 'ended' : 'failed';
      this.trouble = asked ? null : (error as Error).message.replaceAll(path, this.plan.name);
    }
    this.plan.bay?.close();
    this.flush();
    this.onStarted();
    this.send('status', this.now());
  }

  /** Ends it: all that came is in the file, which is finished then. */
  stop(): void {
    if (!this.running) return;
    this.state = 'stopping';
    this.noteStillOut();
    this.stopper.abort();
    this.send('status', this.now());
  }

  /** Ends it and leaves the file unfinished. */
  leave(): void {
    this.leaving = true;
    this.noteStillOut();
    // It has not begun yet: there is nothing to leave.
    if (this.progress === null) this.stopper.abort();
  }

  private onProgress(progress: Progress): void {
    this.progress = progress;
    this.current_mA ??= progress.current_mA;
    this.voltage_V = progress.voltage_V ?? this.voltage_V;
    const { windows, lostLines, badLines } = progress;
    this.quality.note(this.now_ms(), windows, lostLines + badLines);
    this.plan.bay?.committed();
    // One that is being ended goes on to its end.
    if (this.leaving && !this.stopper.signal.aborted) throw new LeaveUnfinished('the server stops');
    if (this.state === 'starting' || this.state === 'recording' || this.state === 'away') {
      this.state = this.silent_s() > AWAY_S ? 'away' : 'recording';
    }
    this.onStarted();
    this.send('status', this.now());
  }

  /** What the technician leaves out at the car stands in the capture, and is said. */
  private noteStillOut(): void {
    const text = this.plan.bay?.leave() ?? null;
    if (text !== null) this.note(`${text[0]!.toUpperCase()}${text.slice(1)}`);
  }

  private silent_s(): number {
    return (this.now_ms() - this.heard_ms) / 1000;
  }

  private take(live: LiveReading): void {
    const { reading, t_s, late } = live;
    this.heard_ms = this.now_ms();
    this.plan.bay?.hear(live);
    if (reading.kind === 'voltage') this.voltage_V = reading.bus_mV / 1000;
    if (reading.kind !== 'window' || t_s === null || late) return;
    const window = liveWindow(reading, t_s);
    this.current_mA = window[2];
    this.elapsed_s = t_s;
    this.fresh.push(window);
    this.stopFlushing ??= this.clock.after(TOGETHER_MS, () => this.flush());
    const step = this.watch.take(window[0], window[1], window[2]);
    if (step !== null) this.called(step);
  }

  private called(step: LiveStep): void {
    this.flush();
    this.steps.push(step);
    if (this.steps.length > STEPS_MAX) this.steps.shift();
    this.send('step', { name: this.plan.name, step });
  }

  private flush(): void {
    this.stopFlushing?.();
    this.stopFlushing = null;
    if (this.fresh.length === 0) return;
    const windows = thinned(this.fresh);
    this.fresh = [];
    this.recent.add(windows);
    this.send('readings', { name: this.plan.name, windows });
  }

  private note(text: string): void {
    this.notes.push({ at_ms: this.clock.wall_ms(), text: text.replaceAll(this.plan.path, this.plan.name) });
    if (this.notes.length > NOTES_MAX) this.notes.shift();
    this.send('status', this.now());
  }

  private space(): Recording['space'] {
    const now_ms = this.now_ms();
    if (this.free === null || now_ms - this.free.at_ms > SPACE_EVERY_MS)
      this.free = { at_ms: now_ms, bytes: this.bench.free_bytes(this.plan.path) };
    const { bytes } = this.free;
    return {
      free_bytes: bytes,
      left_s: bytes === null ? null : Math.max(0, Math.floor((bytes - STOP_BELOW_BYTES) / BYTES_PER_S_OF.bursts)),
    };
  }

  now(): Recording {
    const { name, board, job, for_s, bay } = this.plan;
    const { progress } = this;
    return {
      name,
      state: this.state,
      board,
      job,
      for_s,
      bay: bay !== null,
      began_ms: this.began_ms,
      recorded_s: progress?.recorded_s ?? 0,
      recordedTo_ms: progress === null || progress.recorded_s === 0 ? null : progress.recordedTo_ms,
      elapsed_s: Math.round(Math.max(this.elapsed_s, progress?.recorded_s ?? 0) * 1e4) / 1e4,
      current_mA: this.current_mA,
      voltage_V: this.voltage_V,
      line: {
        windows: progress?.windows ?? 0,
        lost: progress?.lostLines ?? 0,
        damaged: progress?.badLines ?? 0,
        goodShare: this.quality.goodShare(),
        silent_s: Math.round(this.silent_s() * 10) / 10,
      },
      space: this.space(),
      notes: [...this.notes],
      trouble: this.trouble,
    };
  }

  trace(): LivePicture['traces'][number] {
    return { name: this.plan.name, windows: this.recent.all(), steps: [...this.steps] };
  }
}
