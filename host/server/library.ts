// The captures of one folder, asked once per version of the file: a promise is kept
// for each answer, so that a hundred questions cost one analysis.

import type { Findings } from '../contract/findings.ts';
import type { Told } from '../contract/settings.ts';
import { join } from 'node:path';
import { SMALL_BINS } from '../contract/api.ts';
import type { CaptureList, CaptureSummary, Fleet, FleetQuestion, ListQuestion, NightInfo } from '../contract/api.ts';
import type { CaptureFile } from './folder.ts';
import { findFile } from './folder.ts';
import { CAR_NIGHTS_MAX, FILES_KEPT_MAX, FINDINGS_KEPT_MAX } from '../contract/limits.ts';
import { ITSELF, Waiters } from './asker.ts';
import type { Asker } from './asker.ts';
import type { Json } from './json.ts';
import { NobodyWaits, RequestProblem } from './problem.ts';
import type { Amendment, PlainAsking, Readers } from './reading/desk.ts';
import { carOf } from './shelf/car.ts';
import { nightOf } from './shelf/night-table.ts';
import type { Learned } from './shelf/index-file.ts';
import type { Shelf } from './shelf/shelf.ts';
import { wordsOf } from './shelf/words.ts';
import { Turns } from './turns.ts';

/** What was found out about a growing file holds at least this long, and this many times what it cost. */
const HOLDS_MS = 5000;
const HOLDS_COSTS = 20;
/** Captures in one answer where no count is given. */
const LISTED = 200;
const CARS_LISTED = 50;

export interface LibraryParts {
  dir: string;
  shelf: Shelf;
  readers: Readers;
  /** What the workshop has set. */
  workshop: Told;
  /** This computer's key for the marks of cars; null: it keeps none. */
  carKey: string | null;
  /** Milliseconds of a clock that only moves forward. */
  now_ms(): number;
}

interface Kept {
  version: string;
  /** Until then a growing file is not looked at anew. */
  until_ms: number;
  info: Promise<NightInfo> | null;
  small: Promise<Json> | null;
  /** By what was asked, as JSON; the oldest first. */
  findings: Map<string, { promise: Promise<Findings>; waiters: Waiters }>;
  summary: CaptureSummary | null;
  summarising: Promise<void> | null;
}

export class Library {
  private readonly parts: LibraryParts;
  private readonly kept = new Map<string, Kept>();
  /** One analysis at a time: two would only slow each other. */
  private readonly turns = new Turns();
  private readsOthers = false;
  private closed = false;

  constructor(parts: LibraryParts) {
    this.parts = parts;
  }

  /**
   * The captures asked for; those not analysed yet are `waiting`, and their analysis begins, and that of all others
   * after it.
   */
  async list({ search = '', from = 0, count = LISTED }: ListQuestion = {}): Promise<CaptureList> {
    const { rows, found, total } = await this.parts.shelf.page(search, from, count);
    const { version } = this.parts.shelf;
    this.forget();
    const captures = rows.map(({ file: { name, ...rest }, summary }) => {
      if (summary !== null && !this.kept.has(name)) return JSON.parse(summary) as CaptureSummary;
      const file = { name, ...rest, path: join(this.parts.dir, name) };
      const kept = this.keep(file);
      if (kept.summary !== null) return kept.summary;
      if (summary !== null) return (kept.summary = JSON.parse(summary) as CaptureSummary);
      // The outcome is read from the index, or from `kept.summary`, at the next question.
      void this.summarise(file, kept).catch(() => undefined);
      return { state: 'waiting' as const, name, bytes: file.bytes, written_ms: file.written_ms };
    });
    void this.readOthers();
    return { captures, found, total, version };
  }

  /** All nights by car, from what is known of them. */
  async fleet({ from = 0, count = CARS_LISTED }: FleetQuestion): Promise<Fleet> {
    const { shelf } = this.parts;
    const { cars, found, nights } = await shelf.cars(from, count, CAR_NIGHTS_MAX);
    void this.readOthers();
    return { cars, found, nights, unread: shelf.unread, version: shelf.version };
  }

  /**
   * Captures that nobody looks at are analysed too, one after the other, so that a search finds them by what they show.
   */
  private async readOthers(): Promise<void> {
    if (this.readsOthers) return;
    this.readsOthers = true;
    const tried = new Set<string>();
    try {
      for (
        let name = this.parts.shelf.stale(tried);
        name !== null && !this.closed;
        name = this.parts.shelf.stale(tried)
      ) {
        tried.add(name);
        const isHeld = this.kept.has(name);
        const file = await findFile(this.parts.dir, name);
        await this.summarise(file, this.keep(file));
        // What it showed is in the index; ten thousand analyses are too much to hold.
        if (!isHeld) this.kept.delete(name);
      }
    } catch {
      // Gone meanwhile, or the server is stopping; the next question goes on.
    } finally {
      this.readsOthers = false;
    }
  }

  async info(name: string): Promise<NightInfo> {
    const file = await findFile(this.parts.dir, name);
    return this.informed(file, this.keep(file));
  }

  /** @param asker where all who asked have gone before its turn comes, it is not analysed */
  async findings(name: string, asked: Told, asker: Asker = ITSELF): Promise<Findings> {
    const file = await findFile(this.parts.dir, name);
    const kept = this.keep(file);
    const findings = this.analysed(file, kept, asked, asker);
    // Somebody waits for this one; the list can wait.
    this.turns.hurry(kept);
    return findings;
  }

  async overview(name: string, from_s: number, to_s: number, bins: number, asker: Asker = ITSELF): Promise<Json> {
    const file = await findFile(this.parts.dir, name);
    return this.told(file, this.parts.readers.overview(at(file, this.keep(file)), from_s, to_s, bins, asker));
  }

  /** The whole capture in few bins. */
  async small(name: string): Promise<Json> {
    const file = await findFile(this.parts.dir, name);
    const kept = this.keep(file);
    kept.small ??= this.drawSmall(file, kept).catch((error: unknown) => {
      kept.small = null;
      throw error;
    });
    return kept.small;
  }

  private async drawSmall(file: CaptureFile, kept: Kept): Promise<Json> {
    const { duration_s } = await this.informed(file, kept);
    return this.told(file, this.parts.readers.overview(at(file, kept), 0, Math.max(duration_s, 1e-3), SMALL_BINS));
  }

  /** Any question that needs the capture alone. */
  async ask<K extends PlainAsking>(name: string, asking: K): Promise<Awaited<ReturnType<Readers[K]>>> {
    const file = await findFile(this.parts.dir, name);
    const answer = this.parts.readers[asking](at(file, this.keep(file)));
    return this.told(file, answer as Promise<Awaited<ReturnType<Readers[K]>>>);
  }

  /**
   * Changes what is written in a capture by hand. What was found out about its readings stays true.
   * @throws RequestProblem 409 for a CSV, 404 where there is nothing to change
   */
  async amend(name: string, amendment: Amendment): Promise<void> {
    const file = await findFile(this.parts.dir, name);
    if (!/\.nightdraw$/i.test(name)) {
      throw new RequestProblem(
        409,
        'not-a-capture',
        `${name} is a CSV, which has no place for it; make a capture of it with 'nightdraw import'.`,
      );
    }
    const changed = await this.parts.readers.amend(at(file, this.keep(file)), amendment).catch((error: unknown) => {
      throw new RequestProblem(422, 'refused', `${saidOf(error, file)}.`);
    });
    if (!changed)
      throw new RequestProblem(404, 'no-mark', 'There is no such mark; it may have been taken away already.');
    const amended = await findFile(this.parts.dir, name);
    // Somebody may have asked meanwhile: what is kept now may be of the file as it was before.
    const kept = this.kept.get(name) ?? this.keep(amended);
    kept.version = amended.version;
    kept.info = null;
    if (amendment.kind === 'details' && kept.summary?.state === 'ready')
      kept.summary = { ...kept.summary, job: amendment.change.job ?? kept.summary.job };
  }

  async close(): Promise<void> {
    this.closed = true;
    const turnsEnd = this.turns.close(new RequestProblem(503, 'closing', 'The server is stopping.'));
    // What runs is broken off: a long analysis must not hold up the end.
    await this.parts.readers.close();
    await turnsEnd;
    this.kept.clear();
  }

  private keep(file: CaptureFile): Kept {
    const known = this.kept.get(file.name);
    if (
      known !== undefined &&
      (known.version === file.version || (file.growing && this.parts.now_ms() < known.until_ms))
    )
      return known;
    const fresh: Kept = {
      version: file.version,
      until_ms: this.parts.now_ms() + HOLDS_MS,
      info: null,
      small: null,
      findings: new Map(),
      summary: null,
      summarising: null,
    };
    this.kept.set(file.name, fresh);
    for (const oldest of this.kept.keys()) {
      if (this.kept.size <= FILES_KEPT_MAX) break;
      this.kept.delete(oldest);
    }
    return fresh;
  }

  private informed(file: CaptureFile, kept: Kept): Promise<NightInfo> {
    kept.info ??= this.told(file, this.parts.readers.info(at(file, kept)))
      .then((info) => ({ name: file.name, ...info }))
      .catch((error: unknown) => {
        // The next question tries again: the file may have been busy.
        kept.info = null;
        throw error;
      });
    return kept.info;
  }

  private analysed(file: CaptureFile, kept: Kept, asked: Told, asker: Asker): Promise<Findings> {
    const key = JSON.stringify(asked);
    const known = kept.findings.get(key);
    if (known !== undefined) {
      known.waiters.join(asker);
      return known.promise;
    }
    const waiters = new Waiters();
    waiters.join(asker);
    const promise = this.turns
      .add(kept, async () => {
        if (!waiters.leave()) {
          // At once, so that nobody comes to wait for what will not be done.
          kept.findings.delete(key);
          throw new NobodyWaits();
        }
        const begin_ms = this.parts.now_ms();
        const found = await this.parts.readers.findings(at(file, kept), { workshop: this.parts.workshop, asked });
        const end_ms = this.parts.now_ms();
        kept.until_ms = end_ms + Math.max(HOLDS_MS, HOLDS_COSTS * (end_ms - begin_ms));
        return found;
      })
      .catch((error: unknown) => {
        if (kept.findings.get(key)?.promise === promise) kept.findings.delete(key);
        throw unreadable(error, file);
      });
    kept.findings.set(key, { promise, waiters });
    for (const oldest of kept.findings.keys()) {
      if (kept.findings.size <= FINDINGS_KEPT_MAX) break;
      kept.findings.delete(oldest);
    }
    return promise;
  }

  private summarise(file: CaptureFile, kept: Kept): Promise<void> {
    kept.summarising ??= this.read(file, kept).finally(() => (kept.summarising = null));
    return kept.summarising;
  }

  private async read(file: CaptureFile, kept: Kept): Promise<void> {
    const { version } = kept;
    let night: Learned['night'] = null;
    const known = { name: file.name, bytes: file.bytes, written_ms: file.written_ms };
    try {
      const findings = await this.analysed(file, kept, {}, ITSELF);
      const { job, bay } = await this.informed(file, kept);
      const work = bay?.alone === true;
      night = work ? null : nightOf(file.name, await this.carOf(file, kept, job), job, findings);
      const { start, duration_s } = findings.trace;
      kept.summary = { state: 'ready', ...known, start, duration_s, job, verdict: findings.verdict, work };
    } catch (error) {
      if (this.closed) throw error;
      kept.summary = { state: 'unreadable', ...known, reason: reasonOf(error, file) };
    }
    const { summary } = kept;
    const began_ms = summary.state === 'ready' && summary.start !== null ? Date.parse(summary.start) : null;
    this.parts.shelf.learn(file, version, {
      summary: JSON.stringify(summary),
      began_ms,
      last: summary.state === 'unreadable',
      words: wordsOf(summary),
      night,
    });
  }

  /** The plate is read for its mark, and not kept. */
  private async carOf(file: CaptureFile, kept: Kept, job: string): Promise<string> {
    const { carKey, readers } = this.parts;
    const isCapture = /\.nightdraw$/i.test(file.name);
    const plate = carKey !== null && isCapture ? (await readers.details(at(file, kept))).plate : '';
    return carOf({ plate, job, name: file.name }, carKey);
  }

  private async told<T>(file: CaptureFile, answer: Promise<T>): Promise<T> {
    try {
      return await answer;
    } catch (error) {
      throw unreadable(error, file);
    }
  }

  /** Drops what is kept of files that are gone. */
  private forget(): void {
    for (const name of [...this.kept.keys()]) if (!this.parts.shelf.has(name)) this.kept.delete(name);
  }
}

const at = (file: CaptureFile, kept: Kept) => ({ path: file.path, version: kept.version });

/**
 * A fault that lies in the file. A mistake of our own in the analysis is told likewise: the night is still not to be
 * had.
 */
function unreadable(error: unknown, file: CaptureFile): RequestProblem {
  return error instanceof RequestProblem ? error : new RequestProblem(422, 'unreadable', reasonOf(error, file));
}

/** The error's sentence, without where the file lies on this computer. */
const saidOf = (error: unknown, file: CaptureFile) =>
  (error instanceof Error ? error.message : String(error)).replaceAll(file.path, file.name);

/** One sentence that names the file. */
function reasonOf(error: unknown, file: CaptureFile): string {
  const text = saidOf(error, file);
  return text.includes(file.name) ? text : `${file.name} cannot be read: ${text}`;
}
