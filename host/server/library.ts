// The captures of one folder, opened and analysed once per version of the file:
// a promise is kept for each, so that a hundred questions cost one analysis.

import type { Findings } from '../analysis/findings.ts';
import type { CaptureInfo, CaptureSummary, Overview } from './api.ts';
import type { CaptureFile } from './folder.ts';
import { findFile, listFolder } from './folder.ts';
import { RequestProblem } from './problem.ts';
import type { Source } from './source.ts';
import { Turns } from './turns.ts';

/** Sources kept open: traces of CSV files live in memory, so not all of a large folder. */
const OPEN_MAX = 6;
/** What was found out about a growing file holds at least this long, and this many times what it cost. */
const HOLDS_MS = 5000;
const HOLDS_COSTS = 20;

export interface LibraryParts {
  dir: string;
  openSource(file: CaptureFile): Promise<Source>;
  analyse(source: Source): Promise<Findings>;
  /** Milliseconds of a clock that only moves forward. */
  now_ms(): number;
}

interface Kept {
  version: string;
  /** Until then a growing file is not looked at anew. */
  until_ms: number;
  source: Promise<Source> | null;
  info: Promise<CaptureInfo> | null;
  findings: Promise<Findings> | null;
  summary: CaptureSummary | null;
}

export class Library {
  private readonly parts: LibraryParts;
  private readonly kept = new Map<string, Kept>();
  /** Names in order of last use, oldest first. */
  private readonly opened = new Set<string>();
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

  async findings(name: string): Promise<Findings> {
    const file = await findFile(this.parts.dir, name);
    const kept = this.keep(file);
    const findings = this.analysed(file, kept);
    // Somebody waits for this one; the list can wait.
    this.turns.hurry(kept);
    return findings;
  }

  async overview(name: string, from_s: number, to_s: number, bins: number): Promise<Overview> {
    const file = await findFile(this.parts.dir, name);
    const source = await this.source(file, this.keep(file));
    try {
      return source.overview(from_s, to_s, bins);
    } catch (error) {
      throw unreadable(error, file);
    }
  }

  async close(): Promise<void> {
    await this.turns.close(new RequestProblem(503, 'closing', 'The server is stopping.'));
    this.forget(new Set());
  }

  private keep(file: CaptureFile): Kept {
    const known = this.kept.get(file.name);
    if (known !== undefined && (known.version === file.version || (file.growing && this.parts.now_ms() < known.until_ms))) return known;
    if (known !== undefined) this.shut(file.name);
    const fresh: Kept = { version: file.version, until_ms: this.parts.now_ms() + HOLDS_MS, source: null, info: null, findings: null, summary: null };
    this.kept.set(file.name, fresh);
    return fresh;
  }

  private source(file: CaptureFile, kept: Kept): Promise<Source> {
    this.opened.delete(file.name);
    this.opened.add(file.name);
    if (kept.source === null) {
      kept.source = this.parts.openSource(file).catch((error: unknown) => {
        // The next question tries again: the file may have been busy.
        kept.source = null;
        throw unreadable(error, file);
      });
      for (const name of this.opened) {
        if (this.opened.size <= OPEN_MAX) break;
        this.shut(name);
      }
    }
    return kept.source;
  }

  private informed(file: CaptureFile, kept: Kept): Promise<CaptureInfo> {
    kept.info ??= this.source(file, kept).then((source) => ({ name: file.name, ...source.info })).catch((error: unknown) => {
      kept.info = null;
      throw error;
    });
    return kept.info;
  }

  private analysed(file: CaptureFile, kept: Kept): Promise<Findings> {
    kept.findings ??= this.turns.add(kept, async () => {
      const source = await this.source(file, kept);
      const begin_ms = this.parts.now_ms();
      const findings = await this.parts.analyse(source);
      const end_ms = this.parts.now_ms();
      kept.until_ms = end_ms + Math.max(HOLDS_MS, HOLDS_COSTS * (end_ms - begin_ms));
      return findings;
    }).catch((error: unknown) => {
      kept.findings = null;
      throw unreadable(error, file);
    });
    return kept.findings;
  }

  private async summarise(file: CaptureFile, kept: Kept): Promise<void> {
    const known = { name: file.name, bytes: file.bytes, written_ms: file.written_ms };
    try {
      const findings = await this.analysed(file, kept);
      const { job } = await this.informed(file, kept);
      const { start, duration_s } = findings.trace;
      kept.summary = { state: 'ready', ...known, start, duration_s, job, verdict: findings.verdict };
    } catch (error) {
      kept.summary = { state: 'unreadable', ...known, reason: reasonOf(error, file) };
    }
  }

  /** Drops what is kept of files that are gone. */
  private forget(present: Set<string>): void {
    for (const name of [...this.kept.keys()]) {
      if (present.has(name)) continue;
      this.shut(name);
      this.kept.delete(name);
    }
  }

  /** Closes the file; what was found out about it stays. */
  private shut(name: string): void {
    this.opened.delete(name);
    const kept = this.kept.get(name);
    if (kept === undefined || kept.source === null) return;
    void kept.source.then((source) => source.close()).catch(() => undefined);
    kept.source = null;
  }
}

/** A fault that lies in the file. A mistake of our own in the analysis is told likewise: the night is still not to be had. */
function unreadable(error: unknown, file: CaptureFile): RequestProblem {
  return error instanceof RequestProblem ? error : new RequestProblem(422, 'unreadable', reasonOf(error, file));
}

/** One sentence that names the file, but not where it lies on this computer. */
function reasonOf(error: unknown, file: CaptureFile): string {
  const text = (error instanceof Error ? error.message : String(error)).replaceAll(file.path, file.name);
  return text.includes(file.name) ? text : `${file.name} cannot be read: ${text}`;
}
