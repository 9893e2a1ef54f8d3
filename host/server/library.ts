// The captures of one folder, opened and analysed once per version of the file:
// a promise is kept for each, so that a hundred questions cost one analysis.

import type { Findings } from '../analysis/findings.ts';
import type { CaptureInfo, CaptureSummary, Overview } from './api.ts';
import type { CaptureFile } from './folder.ts';
import { findFile, listFolder } from './folder.ts';
import { RequestProblem } from './problem.ts';
import type { Source } from './source.ts';

/** Sources kept open: traces of CSV files live in memory, so not all of a large folder. */
const OPEN_MAX = 6;

export interface LibraryParts {
  dir: string;
  openSource(file: CaptureFile): Promise<Source>;
  analyse(source: Source): Promise<Findings>;
}

interface Kept {
  version: string;
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
  private queue: Promise<unknown> = Promise.resolve();
  private closed = false;

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
    const kept = this.keep(file);
    kept.info ??= this.source(file, kept).then((source) => ({ name, ...source.info }));
    return kept.info;
  }

  async findings(name: string): Promise<Findings> {
    const file = await findFile(this.parts.dir, name);
    return this.analysed(file, this.keep(file));
  }

  async overview(name: string, from_s: number, to_s: number, bins: number): Promise<Overview> {
    const file = await findFile(this.parts.dir, name);
    const source = await this.source(file, this.keep(file));
    return source.overview(from_s, to_s, bins);
  }

  async close(): Promise<void> {
    this.closed = true;
    await this.queue.catch(() => undefined);
    this.forget(new Set());
  }

  private keep(file: CaptureFile): Kept {
    const known = this.kept.get(file.name);
    if (known?.version === file.version) return known;
    if (known !== undefined) this.shut(file.name);
    const fresh: Kept = { version: file.version, source: null, info: null, findings: null, summary: null };
    this.kept.set(file.name, fresh);
    return fresh;
  }

  private source(file: CaptureFile, kept: Kept): Promise<Source> {
    this.opened.delete(file.name);
    this.opened.add(file.name);
    if (kept.source === null) {
      kept.source = this.parts.openSource(file).catch((error: unknown) => {
        throw new RequestProblem(422, 'unreadable', `${file.name} cannot be read: ${error instanceof Error ? error.message : String(error)}`);
      });
      for (const name of this.opened) {
        if (this.opened.size <= OPEN_MAX) break;
        this.shut(name);
      }
    }
    return kept.source;
  }

  private analysed(file: CaptureFile, kept: Kept): Promise<Findings> {
    kept.findings ??= this.inTurn(async () => this.parts.analyse(await this.source(file, kept)));
    return kept.findings;
  }

  private async summarise(file: CaptureFile, kept: Kept): Promise<void> {
    const known = { name: file.name, bytes: file.bytes, written_ms: file.written_ms };
    try {
      const findings = await this.analysed(file, kept);
      kept.info ??= this.source(file, kept).then((source) => ({ name: file.name, ...source.info }));
      const { job } = await kept.info;
      const { start, duration_s } = findings.trace;
      kept.summary = { state: 'ready', ...known, start, duration_s, job, verdict: findings.verdict };
    } catch (error) {
      kept.summary = { state: 'unreadable', ...known, reason: error instanceof Error ? error.message : String(error) };
    }
  }

  private inTurn<T>(work: () => Promise<T>): Promise<T> {
    const turn = this.queue.then(() => {
      if (this.closed) throw new RequestProblem(503, 'closing', 'The server is stopping.');
      return work();
    });
    this.queue = turn.catch(() => undefined);
    return turn;
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
