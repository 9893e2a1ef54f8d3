// The captures of one folder, asked once per version of the file: a promise is kept
// for each answer, so that a hundred questions cost one analysis.

import type { Findings } from '../analysis/findings.ts';
import type { Told } from '../analysis/meaning/settings.ts';
import { SMALL_BINS } from './api.ts';
import type { CaptureInfo, CaptureSummary, Details, Overview } from './api.ts';
import type { CaptureFile } from './folder.ts';
import { findFile, listFolder } from './folder.ts';
import { RequestProblem } from './problem.ts';
import type { Amendment, Readers } from './reading/readers.ts';
import { Turns } from './turns.ts';

/** What was found out about a growing file holds at least this long, and this many times what it cost. */
const HOLDS_MS = 5000;
const HOLDS_COSTS = 20;
/** Analyses kept of one version of a file, each by its options. */
const FINDINGS_MAX = 8;

export interface LibraryParts {
  dir: string;
  readers: Readers;
  /** What the workshop has set. */
  workshop: Told;
  /** Milliseconds of a clock that only moves forward. */
  now_ms(): number;
}

interface Kept {
  version: string;
  /** Until then a growing file is not looked at anew. */
  until_ms: number;
  info: Promise<CaptureInfo> | null;
  small: Promise<Overview> | null;
  /** By what was asked, as JSON; the oldest first. */
  findings: Map<string, Promise<Findings>>;
  summary: CaptureSummary | null;
}

export class Library {
  private readonly parts: LibraryParts;
  private readonly kept = new Map<string, Kept>();
  /** One analysis at a time: two would only slow each other. */
  private readonly turns = new Turns();

  constructor(parts: LibraryParts) {
    this.parts = parts;
  }

  /** All captures; those not analysed yet are `waiting`, and their analysis begins. */
  async list(): Promise<CaptureSummary[]> {
    const files = await listFolder(this.parts.dir);
    this.forget(new Set(files.map((file) => file.name)));
    return files.map((file) => {
      const kept = this.keep(file);
      if (kept.summary !== null) return kept.summary;
      // The outcome is read from `kept.summary` at the next question.
      void this.summarise(file, kept).catch(() => undefined);
      return { state: 'waiting', name: file.name, bytes: file.bytes, written_ms: file.written_ms };
    });
  }

  async info(name: string): Promise<CaptureInfo> {
    const file = await findFile(this.parts.dir, name);
    return this.informed(file, this.keep(file));
  }

  async findings(name: string, asked: Told): Promise<Findings> {
    const file = await findFile(this.parts.dir, name);
    const kept = this.keep(file);
    const findings = this.analysed(file, kept, asked);
    // Somebody waits for this one; the list can wait.
    this.turns.hurry(kept);
    return findings;
  }

  async overview(name: string, from_s: number, to_s: number, bins: number): Promise<Overview> {
    const file = await findFile(this.parts.dir, name);
    return this.told(file, this.parts.readers.overview(at(file, this.keep(file)), from_s, to_s, bins));
  }

  /** The whole capture in few bins. */
  async small(name: string): Promise<Overview> {
    const file = await findFile(this.parts.dir, name);
    const kept = this.keep(file);
    kept.small ??= this.drawSmall(file, kept).catch((error: unknown) => {
      kept.small = null;
      throw error;
    });
    return kept.small;
  }

  private async drawSmall(file: CaptureFile, kept: Kept): Promise<Overview> {
    const { duration_s } = await this.informed(file, kept);
    return this.told(file, this.parts.readers.overview(at(file, kept), 0, Math.max(duration_s, 1e-3), SMALL_BINS));
  }

  async details(name: string): Promise<Details> {
    const file = await findFile(this.parts.dir, name);
    return this.told(file, this.parts.readers.details(at(file, this.keep(file))));
  }

  /**
   * Changes what is written in a capture by hand. What was found out about its readings stays true.
   * @throws RequestProblem 409 for a CSV, 404 where there is nothing to change
   */
  async amend(name: string, amendment: Amendment): Promise<void> {
    const file = await findFile(this.parts.dir, name);
    if (!/\.nightdraw$/i.test(name)) {
      throw new RequestProblem(409, 'not-a-capture', `${name} is a CSV, which has no place for it; make a capture of it with 'nightdraw import'.`);
    }
    const kept = this.keep(file);
    const changed = await this.parts.readers.amend(at(file, kept), amendment).catch((error: unknown) => {
      throw new RequestProblem(422, 'refused', `${wordsOf(error, file)}.`);
    });
    if (!changed) throw new RequestProblem(404, 'no-mark', 'There is no such mark; it may have been taken away already.');
    kept.version = (await findFile(this.parts.dir, name)).version;
    kept.info = null;
    if (amendment.kind === 'details' && kept.summary?.state === 'ready') kept.summary = { ...kept.summary, job: amendment.change.job ?? kept.summary.job };
  }

  async close(): Promise<void> {
    const turnsEnd = this.turns.close(new RequestProblem(503, 'closing', 'The server is stopping.'));
    // What runs is broken off: a long analysis must not hold up the end.
    await this.parts.readers.close();
    await turnsEnd;
    this.kept.clear();
  }

  private keep(file: CaptureFile): Kept {
    const known = this.kept.get(file.name);
    if (known !== undefined && (known.version === file.version || (file.growing && this.parts.now_ms() < known.until_ms))) return known;
    const fresh: Kept = { version: file.version, until_ms: this.parts.now_ms() + HOLDS_MS, info: null, small: null, findings: new Map(), summary: null };
    this.kept.set(file.name, fresh);
    return fresh;
  }

  private informed(file: CaptureFile, kept: Kept): Promise<CaptureInfo> {
    kept.info ??= this.told(file, this.parts.readers.info(at(file, kept))).then((info) => ({ name: file.name, ...info })).catch((error: unknown) => {
      // The next question tries again: the file may have been busy.
      kept.info = null;
      throw error;
    });
    return kept.info;
  }

  private analysed(file: CaptureFile, kept: Kept, asked: Told): Promise<Findings> {
    const key = JSON.stringify(asked);
    const known = kept.findings.get(key);
    if (known !== undefined) return known;
    const findings = this.turns.add(kept, async () => {
      const begin_ms = this.parts.now_ms();
      const found = await this.parts.readers.findings(at(file, kept), { workshop: this.parts.workshop, asked });
      const end_ms = this.parts.now_ms();
      kept.until_ms = end_ms + Math.max(HOLDS_MS, HOLDS_COSTS * (end_ms - begin_ms));
      return found;
    }).catch((error: unknown) => {
      kept.findings.delete(key);
      throw unreadable(error, file);
    });
    kept.findings.set(key, findings);
    for (const oldest of kept.findings.keys()) {
      if (kept.findings.size <= FINDINGS_MAX) break;
      kept.findings.delete(oldest);
    }
    return findings;
  }

  private async summarise(file: CaptureFile, kept: Kept): Promise<void> {
    const known = { name: file.name, bytes: file.bytes, written_ms: file.written_ms };
    try {
      const findings = await this.analysed(file, kept, {});
      const { job } = await this.informed(file, kept);
      const { start, duration_s } = findings.trace;
      kept.summary = { state: 'ready', ...known, start, duration_s, job, verdict: findings.verdict };
    } catch (error) {
      kept.summary = { state: 'unreadable', ...known, reason: reasonOf(error, file) };
    }
  }

  private async told<T>(file: CaptureFile, answer: Promise<T>): Promise<T> {
    try {
      return await answer;
    } catch (error) {
      throw unreadable(error, file);
    }
  }

  /** Drops what is kept of files that are gone. */
  private forget(present: Set<string>): void {
    for (const name of [...this.kept.keys()]) if (!present.has(name)) this.kept.delete(name);
  }
}

const at = (file: CaptureFile, kept: Kept) => ({ path: file.path, version: kept.version });

/** A fault that lies in the file. A mistake of our own in the analysis is told likewise: the night is still not to be had. */
function unreadable(error: unknown, file: CaptureFile): RequestProblem {
  return error instanceof RequestProblem ? error : new RequestProblem(422, 'unreadable', reasonOf(error, file));
}

/** The error's sentence, without where the file lies on this computer. */
const wordsOf = (error: unknown, file: CaptureFile) => (error instanceof Error ? error.message : String(error)).replaceAll(file.path, file.name);

/** One sentence that names the file. */
function reasonOf(error: unknown, file: CaptureFile): string {
  const text = wordsOf(error, file);
  return text.includes(file.name) ? text : `${file.name} cannot be read: ${text}`;
}
