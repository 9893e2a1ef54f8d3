// Records known boards unasked: when one is plugged in, and when the computer is back after
// a power cut. Ends a recording whose board has been away for long: the car is gone.

import type { HostClock } from '../../contract/time.ts';
import type { Recording, RecordingList, RecordOrder, Board } from '../../contract/api.ts';

const LOOK_EVERY_MS = 2000;
/** A port that has just come may not be ready. */
const SETTLED_MS = 3000;
/** While a board is away its recorder looks for it at new ports, and must have had its chance: five seconds at each. */
const SETTLED_BESIDE_AWAY_MS = 15_000;
/** What gave no board is asked again so often: it may have been in use, or still starting. */
const TRIES_MAX = 3;
const AGAIN_AFTER_MS = 10_000;
/** A car that stands stays connected; nobody leaves the cable out for this long and then goes on. */
export const AWAY_END_S = 3600;
/**
 * A power cut of a night is gone on after; later the board may be at another car. By the wall's
 * clock alone, as the file's time of writing is: where that was set back meanwhile, the night is
 * gone on with, since a file with a gap tells more than two halves.
 */
const SAME_NIGHT_MS = 16 * 3_600_000;

export interface UnattendedParts {
  /** Ports at which something is now. */
  ports(): Promise<readonly string[]>;
  /** Numbers of the boards that are recorded unasked, eight hex digits each. */
  known(): readonly string[];
}

/** The part of `Recordings` that is used. */
export interface Recorder {
  current(): Recording[];
  searched(): Promise<readonly Board[]>;
  list(): Promise<RecordingList>;
  begin(order: RecordOrder): Promise<Recording>;
  stop(name: string): Promise<Recording>;
}

interface SeenPort {
  since_ms: number;
  next_ms: number;
  tries: number;
}

export class Unattended {
  private readonly seen = new Map<string, SeenPort>();
  private stopWaiting: () => void = () => undefined;
  private looking: Promise<void> = Promise.resolve();
  private closed = false;

  constructor(
    private readonly parts: UnattendedParts,
    private readonly recorder: Recorder,
    private readonly clock: HostClock,
    private readonly log: (line: string) => void,
  ) {}

  start(): void {
    if (this.closed) return;
    this.looking = this.look().catch((error: unknown) =>
      this.log(`known boards were not looked for: ${(error as Error).message}`),
    );
    void this.looking.then(() => {
      if (!this.closed) this.stopWaiting = this.clock.after(LOOK_EVERY_MS, () => this.start());
    });
  }

  async close(): Promise<void> {
    this.closed = true;
    this.stopWaiting();
    await this.looking;
  }

  private now_ms(): number {
    return this.clock.now_us() / 1000;
  }

  /** One look; `start` does it again and again. */
  async look(): Promise<void> {
    this.endAbandoned();
    const due = this.due(await this.parts.ports());
    if (due.length === 0 || this.closed) return;
    const boards = await this.recorder.searched();
    for (const port of due) {
      const board = boards.find((found) => found.port === port);
      if (this.closed || board === undefined) continue;
      if (board.number === null) this.againLater(port);
      else if (board.recording === null && this.parts.known().includes(board.number))
        await this.take(port, board.number);
    }
  }

  private endAbandoned(): void {
    for (const { name, state, line } of this.recorder.current()) {
      if (state !== 'away' || line.silent_s < AWAY_END_S) continue;
      this.log(`${name}: its board has been away for an hour; the recording is ended`);
      // Ending takes a moment, in which other boards are looked for.
      void this.recorder
        .stop(name)
        .catch((error: unknown) => this.log(`${name} could not be ended: ${(error as Error).message}`));
    }
  }

  /** The ports that are to be asked now; each is then asked no more until it was gone. */
  private due(ports: readonly string[]): string[] {
    const now_ms = this.now_ms();
    for (const port of [...this.seen.keys()]) if (!ports.includes(port)) this.seen.delete(port);
    const settled_ms = this.recorder.current().some(({ state }) => state === 'away')
      ? SETTLED_BESIDE_AWAY_MS
      : SETTLED_MS;
    const due: string[] = [];
    for (const port of ports) {
      const seen = this.seen.get(port) ?? { since_ms: now_ms, next_ms: now_ms, tries: 0 };
      this.seen.set(port, seen);
      if (now_ms < seen.next_ms || now_ms - seen.since_ms < settled_ms) continue;
      seen.next_ms = Infinity;
      due.push(port);
    }
    return due;
  }

  private againLater(port: string): void {
    const seen = this.seen.get(port)!;
    seen.tries++;
    if (seen.tries < TRIES_MAX) seen.next_ms = this.now_ms() + seen.tries * AGAIN_AFTER_MS;
  }

  private async take(port: string, number: string): Promise<void> {
    const recent = (await this.recorder.list()).unfinished.filter(
      ({ board, written_ms }) => board === number && this.clock.wall_ms() - written_ms < SAME_NIGHT_MS,
    );
    const last = recent.sort((a, b) => b.written_ms - a.written_ms)[0];
    if (last !== undefined && (await this.begun({ resume: last.name }, `goes on with ${last.name}`))) return;
    // Nothing of tonight may be lost because an older file is not in order.
    if (!(await this.begun({ port }, `records board ${number}`))) this.againLater(port);
  }

  private begun(order: RecordOrder, what: string): Promise<boolean> {
    return this.recorder.begin(order).then(
      ({ name }) => (this.log(`${what}, unasked: ${name}`), true),
      (error: unknown) => (this.log(`not recorded unasked: ${(error as Error).message}`), false),
    );
  }
}
