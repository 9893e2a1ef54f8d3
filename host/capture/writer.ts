// Writes a capture: what `commit` was given is on the disk when it returns, and
// stays there whatever happens to the program or the power afterwards.
//
// Small blocks of a second or less are written as they come and, in the same
// transaction, merged into large ones. See SPEC.md for the tables.

import Database from 'better-sqlite3';
import { closeSync, existsSync, fsyncSync, linkSync, openSync, renameSync, rmSync } from 'node:fs';
import {
  blockCrc, decodeVoltage, decodeWindows, encodePoints, encodeVoltage, encodeWindows, newVoltageColumns, newWindowColumns, STREAM,
} from './blocks.ts';
import type { PointColumns } from './blocks.ts';
import { createTables, openDatabase } from './schema.ts';
import type { Db } from './schema.ts';
import { encodeGroups, groupPoints, groupWindows } from './summaries.ts';
import type { BadLine, ClockKnot, Personal, Reading, Run, StatusReading, VoltageReading, WindowReading } from './types.ts';

/** Readings in a merged block: 205 s of windows, some 30 kB. */
export const MERGED = 4096;

/** Bad lines that are kept verbatim; further ones are only counted. */
export const BAD_LINES_KEPT = 1000;

export interface NewCapture {
  kind: 'recorded' | 'imported';
  software: string;
  created_ms: number;
  /** Wall clock at the axis' zero; null where the source has none. */
  axis_ms: number | null;
  job: string | null;
  origin: Record<string, unknown> | null;
  /** What names a person or a car: kept apart from all else that a capture says of itself. */
  personal?: Personal;
}

/** What one transaction brings to a recorded capture. */
export interface Batch {
  run: number;
  readings: readonly Reading[];
  badLines?: readonly BadLine[];
  /** Lines not believed in all, bad ones that are no longer kept included. */
  badLineCount?: number;
  /** The run's clock as far as it is known, replacing what was known before. */
  clock?: readonly ClockKnot[];
  /** The recorder's clocks now, for whoever goes on with the capture. */
  host?: { axis_us: number; wall_ms: number; up_s: number };
}

/** A stream's readings that lie in pending blocks, still to be merged. */
interface Tail {
  run: number;
  windows: WindowReading[];
  voltage: VoltageReading[];
}

/**
 * Makes an empty capture at `path`. It appears there complete or not at all. `called` is its name in messages.
 * @throws Error where `path` exists or cannot be written.
 */
export function createCapture(path: string, about: NewCapture, called = path): void {
  const draft = `${path}.new-${process.pid}`;
  try {
    rmSync(draft, { force: true });
    const db = new Database(draft);
    try {
      createTables(db);
      const { personal = {}, ...rest } = about;
      putInfo(db, { ...rest, ...personal, state: 'recording', bad_line_count: 0 });
    } finally {
      db.close();
    }
    publish(draft, path);
  } catch (error) {
    throw new Error(unwritable(called, error as NodeJS.ErrnoException), { cause: error });
  } finally {
    rmSync(draft, { force: true });
  }
}

/**
 * Gives a complete draft its name, never overwriting another file.
 * @throws the system's error; EEXIST where the name is taken.
 */
export function publish(draft: string, path: string): void {
  const fd = openSync(draft, 'r+');
  fsyncSync(fd);
  closeSync(fd);
  try {
    linkSync(draft, path);
  } catch (error) {
    // Some file systems of memory sticks have no hard links: look, then rename.
    if ((error as NodeJS.ErrnoException).code === 'EEXIST' || existsSync(path)) throw Object.assign(new Error('taken'), { code: 'EEXIST' });
    renameSync(draft, path);
  }
}

/**
 * Writes an imported capture: `fill` appends to a draft, which gets its name only when all went well.
 * @throws whatever `fill` throws, or Error where `path` exists or cannot be written; nothing is left behind.
 */
export async function writeImported(path: string, about: NewCapture, fill: (writer: CaptureWriter) => Promise<void>): Promise<void> {
  if (existsSync(path)) throw new Error(`${path} exists already; give another name`);
  const draft = `${path}.draft-${process.pid}`;
  rmSync(draft, { force: true });
  createCapture(draft, about, path);
  const writer = new CaptureWriter(draft, { draft: true });
  try {
    await fill(writer);
    writer.finish();
    try {
      publish(draft, path);
    } catch (error) {
      throw new Error(unwritable(path, error as NodeJS.ErrnoException), { cause: error });
    }
  } finally {
    writer.close();
    rmSync(draft, { force: true });
  }
}

function unwritable(path: string, error: NodeJS.ErrnoException): string {
  if (error.code === 'EEXIST') return `${path} exists already; give another name`;
  if (error.code === 'ENOSPC' || error.code === 'SQLITE_FULL') return `${path} cannot be written: the disk is full`;
  return `${path} cannot be written (${error.message}); check that its folder exists and may be written to`;
}

function putInfo(db: Db, values: object): void {
  const put = db.prepare('INSERT OR REPLACE INTO info (key, value) VALUES (?, ?)');
  for (const [key, value] of Object.entries(values)) put.run(key, JSON.stringify(value));
}

/**
 * Appends to a capture. Times and order are the caller's to check: readings of a run ascend,
 * windows that were sent again apart, which fill holes.
 */
export class CaptureWriter {
  private readonly db: Db;
  private tail: Tail = { run: 0, windows: [], voltage: [] };

  /**
   * Opens an existing, unfinished capture for appending; what a crash left behind is recovered.
   * A `draft` is thrown away when anything goes wrong, so that it need not survive a crash.
   * @throws Error in one sentence where it is no capture, or the disk refuses.
   */
  constructor(readonly path: string, options: { draft: boolean } = { draft: false }) {
    this.db = openDatabase(path, { readonly: false });
    this.db.pragma(options.draft ? 'journal_mode = MEMORY' : 'journal_mode = WAL');
    this.db.pragma(options.draft ? 'synchronous = OFF' : 'synchronous = FULL');
    this.loadTail();
  }

  /** Reads back the pending blocks of the last run, so that they are merged with what follows. */
  private loadTail(): void {
    const last = this.db.prepare('SELECT max(id) FROM run').pluck().get() as number | null;
    this.tail = { run: last ?? 0, windows: [], voltage: [] };
    for (const row of this.pendingRows(STREAM.windows)) {
      const columns = newWindowColumns(row.count);
      decodeWindows(row.data, row.crc32, row.count, columns, 0);
      for (let i = 0; i < row.count; i++) this.tail.windows.push(windowAt(columns, i));
    }
    for (const row of this.pendingRows(STREAM.voltage)) {
      const columns = newVoltageColumns(row.count);
      decodeVoltage(row.data, row.crc32, row.count, columns, 0);
      for (let i = 0; i < row.count; i++) this.tail.voltage.push(voltageAt(columns, i));
    }
  }

  private pendingRows(stream: number): { count: number; crc32: number; data: Buffer }[] {
    return this.db
      .prepare('SELECT count, crc32, data FROM block WHERE run = ? AND stream = ? AND pending = 1 ORDER BY id')
      .all(this.tail.run, stream) as { count: number; crc32: number; data: Buffer }[];
  }

  /**
   * Begins the next run: another boot, or the first. The run before is merged as it stands.
   * @param doubt_s how sure the length of the gap before it is; null where nobody can tell
   */
  beginRun(run: Omit<Run, 'id'>, doubt_s: number | null = 0): number {
    const id = this.transaction(() => {
      this.mergeTail();
      const { lastInsertRowid } = this.db
        .prepare('INSERT INTO run (reason, began_ms, hello) VALUES (?, ?, ?)')
        .run(run.reason, run.began_ms, JSON.stringify(run.hello));
      if (doubt_s !== 0) putInfo(this.db, { [`doubt_s_${lastInsertRowid}`]: doubt_s });
      return Number(lastInsertRowid);
    });
    this.tail = { run: id, windows: [], voltage: [] };
    return id;
  }

  private mergeTail(): void {
    this.merge(STREAM.windows, this.tail.windows);
    this.merge(STREAM.voltage, this.tail.voltage);
  }

  /** One transaction. When it returns, all of it is on the disk; where it throws, none of it is. */
  commit(batch: Batch): void {
    if (batch.run !== this.tail.run) throw new Error(`run ${batch.run} is over; run ${this.tail.run} is being written`);
    const windows = batch.readings.filter((r): r is WindowReading => r.kind === 'window');
    const voltage = batch.readings.filter((r): r is VoltageReading => r.kind === 'voltage');
    const status = batch.readings.filter((r): r is StatusReading => r.kind === 'status');
    const merged = this.transaction(() => {
      this.putStatus(batch.run, status);
      this.putBadLines(batch);
      if (batch.host !== undefined) putInfo(this.db, { host: batch.host });
      if (batch.clock !== undefined) this.putClock(batch.run, batch.clock);
      return {
        windows: this.append(STREAM.windows, this.tail.windows, windows),
        voltage: this.append(STREAM.voltage, this.tail.voltage, voltage),
      };
    });
    this.tail.windows = merged.windows;
    this.tail.voltage = merged.voltage;
  }

  /** Appends to a stream as a pending block, or merges all that is pending. Returns what is pending afterwards. */
  private append<T extends WindowReading | VoltageReading>(stream: number, tail: T[], fresh: T[]): T[] {
    if (fresh.length === 0) return tail;
    const all = inOrder([...tail, ...fresh]);
    if (all.length < MERGED) {
      this.putBlock(stream, inOrder(fresh), true);
      return all;
    }
    this.merge(stream, all);
    return [];
  }

  /** Replaces a stream's pending blocks by one block of all that is in `readings`. */
  private merge(stream: number, readings: (WindowReading | VoltageReading)[]): void {
    if (readings.length === 0) return;
    this.db.prepare('DELETE FROM block WHERE run = ? AND stream = ? AND pending = 1').run(this.tail.run, stream);
    this.putBlock(stream, readings, false);
  }

  private putBlock(stream: number, readings: readonly (WindowReading | VoltageReading)[], pending: boolean): void {
    const data = stream === STREAM.windows ? encodeWindows(readings as WindowReading[]) : encodeVoltage(readings as VoltageReading[]);
    const first = readings[0]!, last = readings[readings.length - 1]!;
    const first_t_us = first.kind === 'window' ? first.t_us - first.dur_us : first.t_us;
    const id = this.insertBlock(stream, pending, first_t_us, last.t_us, readings.length, data);
    if (pending || stream !== STREAM.windows) return;
    const columns = newWindowColumns(readings.length);
    decodeWindows(data, blockCrc(data), readings.length, columns, 0);
    this.putSummary(id, encodeGroups(groupWindows(columns, 0, readings.length), first_t_us));
  }

  private insertBlock(stream: number, pending: boolean, first: number, last: number, count: number, data: Buffer): number {
    const { lastInsertRowid } = this.db
      .prepare('INSERT INTO block (stream, run, pending, first_t_us, last_t_us, count, crc32, data) VALUES (?, ?, ?, ?, ?, ?, ?, ?)')
      .run(stream, this.tail.run, pending ? 1 : 0, first, last, count, blockCrc(data), data);
    return Number(lastInsertRowid);
  }

  private putSummary(block: number, data: Buffer): void {
    this.db.prepare('INSERT INTO summary (block, data) VALUES (?, ?)').run(block, data);
  }

  /** One block of imported points, in a transaction of its own. */
  commitPoints(points: PointColumns): void {
    const count = points.t_s.length;
    const first_t_us = points.t_s[0]! * 1e6;
    this.transaction(() => {
      const id = this.insertBlock(STREAM.points, false, first_t_us, points.t_s[count - 1]! * 1e6, count, encodePoints(points));
      this.putSummary(id, encodeGroups(groupPoints(points, 0, count), first_t_us));
    });
  }

  private putStatus(run: number, status: readonly StatusReading[]): void {
    const put = this.db.prepare('INSERT INTO status (run, seq, t_us, code, detail) VALUES (?, ?, ?, ?, ?)');
    for (const s of status) put.run(run, s.seq, s.t_us, s.code, s.detail);
  }

  private putBadLines(batch: Batch): void {
    if (batch.badLineCount !== undefined) putInfo(this.db, { bad_line_count: batch.badLineCount });
    if (batch.badLines === undefined || batch.badLines.length === 0) return;
    const kept = this.db.prepare('SELECT count(*) FROM bad_line').pluck().get() as number;
    const put = this.db.prepare('INSERT INTO bad_line (wall_ms, reason, line) VALUES (?, ?, ?)');
    for (const bad of batch.badLines.slice(0, Math.max(0, BAD_LINES_KEPT - kept))) put.run(bad.wall_ms, bad.reason, bad.line);
  }

  private putClock(run: number, knots: readonly ClockKnot[]): void {
    this.db.prepare('DELETE FROM clock WHERE run = ?').run(run);
    const put = this.db.prepare('INSERT INTO clock (run, t_us, axis_us) VALUES (?, ?, ?)');
    for (const knot of knots) put.run(run, knot.t_us, knot.axis_us);
  }

  /** Sets values that were not known when the capture was made, such as the start that an imported file states. */
  describe(values: Partial<Pick<NewCapture, 'axis_ms' | 'job' | 'origin'>>): void {
    this.transaction(() => putInfo(this.db, values));
  }

  /** Notes on the time axis of a capture whose readings are all in it. */
  addMarks(marks: readonly { axis_us: number; text: string }[]): void {
    this.transaction(() => {
      const put = this.db.prepare('INSERT INTO mark (axis_us, text) VALUES (?, ?)');
      for (const { axis_us, text } of marks) put.run(axis_us, text);
    });
  }

  addBadLines(badLines: readonly BadLine[], badLineCount: number): void {
    this.transaction(() => this.putBadLines({ run: this.tail.run, readings: [], badLines, badLineCount }));
  }

  /** Marks the capture finished, leaves one file on the disk, and closes it. */
  finish(): void {
    this.transaction(() => {
      this.mergeTail();
      putInfo(this.db, { state: 'finished' });
    });
    this.close();
  }

  /** Closes without finishing: the capture can be resumed. One file remains unless somebody is reading it. */
  close(): void {
    if (!this.db.open) return;
    try {
      this.db.pragma('wal_checkpoint(TRUNCATE)');
      this.db.pragma('journal_mode = DELETE');
    } catch {
      // A reader holds the file: everything is on the disk in the file and its -wal, and the last one to close tidies up.
    }
    this.db.close();
  }

  /**
   * Writes everything committed so far into a new file: where this one was deleted, its
   * bytes are there as long as it is open. @throws Error where `copy` cannot be written
   */
  rescue(copy: string): void {
    this.worded(() => this.db.prepare('VACUUM INTO ?').run(copy));
  }

  private transaction<T>(work: () => T): T {
    return this.worded(() => this.db.transaction(work).immediate());
  }

  /** Runs `work`, putting what the disk says into words. */
  private worded<T>(work: () => T): T {
    try {
      return work();
    } catch (error) {
      throw new Error(refused(this.path, error as NodeJS.ErrnoException), { cause: error });
    }
  }
}

/** What a disk that refuses a running recording says to the user. */
function refused(path: string, error: NodeJS.ErrnoException): string {
  const { code = '', message } = error;
  if (code === 'SQLITE_FULL' || code === 'ENOSPC') return `${path} cannot grow: the disk is full; what was shown as recorded is kept; free some space, then record on into the same file`;
  if (code.startsWith('SQLITE_READONLY')) return `${path} may not be written any more; what was shown as recorded is kept; make its folder writable, then record on into the same file`;
  if (code.startsWith('SQLITE_')) return `${path} cannot be written (${message}); what was shown as recorded is kept; look at its disk, then record on into the same file`;
  return message;
}

/** Windows that the board sent again come late: put in their place. */
function inOrder<T extends { t_us: number }>(readings: T[]): T[] {
  for (let i = 1; i < readings.length; i++) {
    if (readings[i]!.t_us < readings[i - 1]!.t_us) return [...readings].sort((a, b) => a.t_us - b.t_us);
  }
  return readings;
}

function windowAt(c: ReturnType<typeof newWindowColumns>, i: number): WindowReading {
  return {
    kind: 'window', seq: c.seq[i]!, t_us: c.t_us[i]!, dur_us: c.dur_us[i]!, count: c.count[i]!,
    mean_uA: c.mean_uA[i]!, min_uA: c.min_uA[i]!, max_uA: c.max_uA[i]!, charge_nC: c.charge_nC[i]!, flags: c.flags[i]!,
  };
}

function voltageAt(c: ReturnType<typeof newVoltageColumns>, i: number): VoltageReading {
  return { kind: 'voltage', seq: c.seq[i]!, t_us: c.t_us[i]!, bus_mV: c.bus_mV[i]!, temp_mC: c.temp_mC[i]!, dropped: c.dropped[i]! };
}
