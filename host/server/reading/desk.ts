// Answers about files, in whatever thread it is run: keeps the few that were asked for
// last open, and bounds what they may hold in memory together.

import { boardNumber } from '../../say/board.ts';
import { addMark } from '../../capture/store/amend.ts';
import { readBay } from '../../capture/store/bay-log.ts';
import { readDetails, removeMark, setDetails } from '../../capture/store/edit.ts';
import { openCapture } from '../../capture/read/reader.ts';
import { kindOfFile } from '../../capture/format/schema.ts';
import { Json } from '../json.ts';
import { openSource } from './source.ts';
import type { Source } from './source.ts';
import type { Details, DetailsChange, MarkOrder, Unfinished } from '../../contract/api.ts';
import type { Findings } from '../../contract/findings.ts';
import type { Settings } from '../../night/judge.ts';
import type { Asker } from '../asker.ts';

/** A file as `folder.ts` found it. A new version means that its content may have changed. */
export interface FileAt {
  path: string;
  version: string;
}

/** One change of a capture by hand. */
export type Amendment =
  | ({ kind: 'mark' } & MarkOrder)
  | ({ kind: 'unmark' } & MarkOrder)
  | { kind: 'details'; change: DetailsChange };

export interface DeskLimits {
  /** Files kept open. */
  files: number;
  /** Bytes that their samples may take together; the one asked for last is kept even alone above it. */
  bytes: number;
}

export const DESK_LIMITS: DeskLimits = { files: 6, bytes: 1.5e9 };

interface Open {
  version: string;
  source: Promise<Source>;
  bytes: number;
}

export class Desk {
  /** By path, in order of last use, oldest first. */
  private readonly opened = new Map<string, Open>();

  constructor(
    private readonly limits = DESK_LIMITS,
    private readonly open: (path: string) => Promise<Source> = openSource,
  ) {}

  /** The open source of a file; kept until others are asked for. */
  async source(file: FileAt): Promise<Source> {
    const known = this.opened.get(file.path);
    if (known !== undefined && known.version !== file.version) this.shut(file.path);
    const open = this.opened.get(file.path) ?? this.begin(file);
    // Moved to the end: it was used last.
    this.opened.delete(file.path);
    this.opened.set(file.path, open);
    try {
      const source = await open.source;
      open.bytes = source.bytes;
      this.keepWithin();
      return source;
    } catch (error) {
      // The next question tries again: the file may have been busy.
      if (this.opened.get(file.path) === open) this.opened.delete(file.path);
      throw error;
    }
  }

  private begin(file: FileAt): Open {
    return { version: file.version, source: this.open(file.path), bytes: 0 };
  }

  private keepWithin(): void {
    let bytes = 0;
    for (const open of this.opened.values()) bytes += open.bytes;
    for (const [path, open] of this.opened) {
      if (this.opened.size <= 1 || (this.opened.size <= this.limits.files && bytes <= this.limits.bytes)) return;
      bytes -= open.bytes;
      this.shut(path);
    }
  }

  private shut(path: string): void {
    const open = this.opened.get(path);
    this.opened.delete(path);
    void open?.source.then((source) => source.close()).catch(() => undefined);
  }

  close(): void {
    for (const path of [...this.opened.keys()]) this.shut(path);
  }
}

/** @param desk where files are kept open between questions */
export function readersAt(desk: Desk) {
  return {
    info: async (file: FileAt) => (await desk.source(file)).info,
    /** An `Overview`, written. Rejects with `NobodyWaits` where its asker has gone before it was begun. */
    overview: async (file: FileAt, from_s: number, to_s: number, bins: number, _asker?: Asker) =>
      Json.of((await desk.source(file)).overview(from_s, to_s, bins)),
    // Opened for this once: a whole night of samples is not kept for a question that is asked once.
    findings: async (file: FileAt, settings: Settings): Promise<Findings> =>
      (await (await import('../../night/judge.ts')).judgedNight(file.path, settings)).night,
    details: (file: FileAt) => now(() => detailsOf(file.path)),
    /** False where there was nothing to change. */
    amend: (file: FileAt, amendment: Amendment) => now(() => amend(file.path, amendment)),
    /** Null for what is no unfinished recording. */
    unfinished: (file: FileAt) => now(() => unfinished(file.path)),
    close: () => now(() => desk.close()),
  };
}

/**
 * All questions to a file, as they are answered here; each rejects with an Error in one sentence where
 * the file cannot be read or changed. A new one is written above, and has its door in `routes-captures.ts`.
 */
export type Readers = ReturnType<typeof readersAt>;

export type Asking = Exclude<keyof Readers, 'close'>;

/** Questions that need the file alone, and are quickly answered. */
export type PlainAsking = Exclude<Asking, 'overview' | 'findings' | 'amend'>;

/** What is thrown is a rejection. */
async function now<T>(work: () => T): Promise<T> {
  await Promise.resolve();
  return work();
}

function detailsOf(path: string): Details {
  return kindOfFile(path) === 'database' ? readDetails(path) : { job: '', plate: '', vehicle: '', customer: '' };
}

function amend(path: string, amendment: Amendment): boolean {
  if (amendment.kind === 'unmark') return removeMark(path, amendment.t_s, amendment.text);
  if (amendment.kind === 'mark') addMark(path, amendment.t_s, amendment.text);
  else setDetails(path, definedOnly(amendment.change));
  return true;
}

function definedOnly<T extends object>(values: T): { [K in keyof T]?: Exclude<T[K], undefined> } {
  return Object.fromEntries(Object.entries(values).filter(([, value]) => value !== undefined)) as {
    [K in keyof T]?: Exclude<T[K], undefined>;
  };
}

function unfinished(path: string): Omit<Unfinished, 'name' | 'written_ms'> | null {
  if (kindOfFile(path) !== 'database') return null;
  const capture = openCapture(path);
  try {
    const { kind, state, runs, duration_s, job } = capture.info();
    if (kind !== 'recorded' || state !== 'recording') return null;
    const id = runs[runs.length - 1]?.hello.id;
    return {
      job: job ?? '',
      board: id === undefined ? null : boardNumber(id),
      recorded_s: duration_s,
      bay: readBay(path) !== null,
    };
  } finally {
    capture.close();
  }
}
