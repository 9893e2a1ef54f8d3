// Writes a capture: what `commit` was given is on the disk when it returns, and
// stays there whatever happens to the program or the power afterwards.
//
// Small blocks of a second or less are written as they come and, in the same
// transaction, merged into large ones. See SPEC.md for the tables.

import { blockCrc, encodePoints, STREAM } from '../format/blocks.ts';
import type { PointColumns } from '../format/blocks.ts';
import { putInfo } from './create.ts';
import type { NewCapture } from './create.ts';
import { openDatabase, upgrade } from '../format/schema.ts';
import type { Db } from '../format/schema.ts';
import { RAW, VOLTAGES, windowColumns, WINDOWS } from '../format/streams.ts';
import { encodeGroups, groupPoints, groupWindows } from '../format/summaries.ts';
import { Tail } from './tail.ts';
import type {
  BadLine,
  Calibration,
  ChipLimits,
  ClockKnot,
  Hello,
  RawReading,
  Reading,
  Run,
  StatusReading,
  VoltageReading,
  WindowReading,
} from '../../contract/capture.ts';

export { createCapture, publish } from './create.ts';
export type { NewCapture } from './create.ts';
export { MERGED } from '../format/streams.ts';

/** Bad lines that are kept verbatim; further ones are only counted. */
export const BAD_LINES_KEPT = 1000;

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

/** Imported points as they are stored. */
export interface PointBlock {
  first_t_us: number;
  last_t_us: number;
  count: number;
  data: Buffer;
  summary: Buffer;
}

/** Of the points nothing is kept: their arrays may be filled anew. */
export function pointBlock(points: PointColumns): PointBlock {
  const count = points.t_s.length;
  const first_t_us = points.t_s[0]! * 1e6;
  return {
    first_t_us,
    last_t_us: points.t_s[count - 1]! * 1e6,
    count,
    data: encodePoints(points),
    summary: encodeGroups(groupPoints(points, 0, count), first_t_us),
  };
}

/**
 * Appends to a capture. Times and order are the caller's to check: readings of a run ascend,
 * windows that were sent again apart, which fill holes.
 */
export class CaptureWriter {
  private readonly db: Db;
  private run: number;
  private readonly tails: { windows: Tail<WindowReading>; voltages: Tail<VoltageReading>; raw: Tail<RawReading> };

  /**
   * Opens an existing, unfinished capture for appending; what a crash left behind is recovered.
   * A `draft` is thrown away when anything goes wrong, so that it need not survive a crash.
   * @throws Error in one sentence where it is no capture, or the disk refuses.
   */
  constructor(
    readonly path: string,
    options: { draft: boolean } = { draft: false },
  ) {
    this.db = openDatabase(path, { readonly: false });
    this.db.pragma(options.draft ? 'journal_mode = MEMORY' : 'journal_mode = WAL');
    this.db.pragma(options.draft ? 'synchronous = OFF' : 'synchronous = FULL');
    this.worded(() => upgrade(this.db));
    this.tails = {
      windows: new Tail(this.db, WINDOWS, (block, readings, first_t_us) => this.summarise(block, readings, first_t_us)),
      voltages: new Tail(this.db, VOLTAGES),
      raw: new Tail(this.db, RAW),
    };
    this.run = (this.db.prepare('SELECT max(id) FROM run').pluck().get() as number | null) ?? 0;
    for (const tail of this.streams) tail.load(this.run);
  }

  private get streams() {
    return Object.values(this.tails);
  }

  /**
   * Begins the next run: another boot, or the first. The run before is merged as it stands.
   * @param doubt_s how sure the length of the gap before it is; null where nobody can tell
   */
  beginRun(run: Omit<Run, 'id' | 'limits'>, doubt_s: number | null = 0): number {
    this.run = this.transaction(() => {
      for (const tail of this.streams) tail.merge();
      const { lastInsertRowid } = this.db
        .prepare('INSERT INTO run (reason, began_ms, hello) VALUES (?, ?, ?)')
        .run(run.reason, run.began_ms, JSON.stringify(run.hello));
      if (doubt_s !== 0) putInfo(this.db, { [`doubt_s_${lastInsertRowid}`]: doubt_s });
      return Number(lastInsertRowid);
    });
    for (const tail of this.streams) tail.begin(this.run);
    return this.run;
  }

  /** What the board said of itself since the run began: other settings, or what its sense chip can do. */
  describeRun(run: number, said: { hello?: Hello; limits?: ChipLimits }): void {
    this.transaction(() => {
      if (said.hello !== undefined)
        this.db.prepare('UPDATE run SET hello = ? WHERE id = ?').run(JSON.stringify(said.hello), run);
      if (said.limits !== undefined)
        this.db.prepare('UPDATE run SET limits = ? WHERE id = ?').run(JSON.stringify(said.limits), run);
    });
  }

  /** One transaction. When it returns, all of it is on the disk; where it throws, none of it is. */
  commit(batch: Batch): void {
    if (batch.run !== this.run) throw new Error(`run ${batch.run} is over; run ${this.run} is being written`);
    const status = batch.readings.filter((r): r is StatusReading => r.kind === 'status');
    this.transaction(() => {
      this.putStatus(batch.run, status);
      this.putBadLines(batch);
      if (batch.host !== undefined) putInfo(this.db, { host: batch.host });
      if (batch.clock !== undefined) this.putClock(batch.run, batch.clock);
      for (const tail of this.streams) tail.append(batch.readings);
    });
    for (const tail of this.streams) tail.settle();
  }

  /** The pyramid of a merged block of windows. */
  private summarise(block: number, readings: readonly WindowReading[], first_t_us: number): void {
    this.putSummary(block, encodeGroups(groupWindows(windowColumns(readings), 0, readings.length), first_t_us));
  }

  private putSummary(block: number, data: Buffer): void {
    this.db.prepare('INSERT INTO summary (block, data) VALUES (?, ?)').run(block, data);
  }

  /** Imported points, in one transaction. */
  commitPoints(blocks: readonly PointBlock[]): void {
    this.transaction(() => {
      const put = this.db.prepare(
        'INSERT INTO block (stream, run, pending, first_t_us, last_t_us, count, crc32, data) VALUES (?, ?, 0, ?, ?, ?, ?, ?)',
      );
      for (const { first_t_us, last_t_us, count, data, summary } of blocks) {
        const { lastInsertRowid } = put.run(STREAM.points, 0, first_t_us, last_t_us, count, blockCrc(data), data);
        this.putSummary(Number(lastInsertRowid), summary);
      }
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
    for (const bad of batch.badLines.slice(0, Math.max(0, BAD_LINES_KEPT - kept)))
      put.run(bad.wall_ms, bad.reason, bad.line);
  }

  private putClock(run: number, knots: readonly ClockKnot[]): void {
    this.db.prepare('DELETE FROM clock WHERE run = ?').run(run);
    const put = this.db.prepare('INSERT INTO clock (run, t_us, axis_us) VALUES (?, ?, ?)');
    for (const knot of knots) put.run(run, knot.t_us, knot.axis_us);
  }

  /** Sets values that were not known when the capture was made, such as the start that an imported file states. */
  describe(values: Partial<Omit<NewCapture, 'personal' | 'certificate'>> & { car?: object; battery?: object }): void {
    this.transaction(() => putInfo(this.db, values));
  }

  /** Notes on the time axis of a capture whose readings are all in it. */
  addMarks(marks: readonly { axis_us: number; text: string }[]): void {
    this.transaction(() => {
      const put = this.db.prepare('INSERT INTO mark (axis_us, text) VALUES (?, ?)');
      for (const { axis_us, text } of marks) put.run(axis_us, text);
    });
  }

  /** Later calibrations, the oldest first. */
  addCalibrations(calibrations: readonly Calibration[]): void {
    this.transaction(() => {
      const put = this.db.prepare(
        'INSERT INTO calibration (made_ms, reason, shunt_nOhm, gain_ppm, offset_nV) VALUES (?, ?, ?, ?, ?)',
      );
      for (const { made_ms, reason, shunt_nOhm, gain_ppm, offset_nV } of calibrations)
        put.run(made_ms, reason, shunt_nOhm, gain_ppm, offset_nV);
    });
  }

  addBadLines(badLines: readonly BadLine[], badLineCount: number): void {
    this.transaction(() => this.putBadLines({ run: this.run, readings: [], badLines, badLineCount }));
  }

  /** Marks the capture finished, leaves one file on the disk, and closes it. */
  finish(): void {
    this.transaction(() => {
      for (const tail of this.streams) tail.merge();
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
      // A reader holds the file: everything is on the disk in the file and its -wal, and the last one to close tidies
      // up.
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
  if (code === 'SQLITE_FULL' || code === 'ENOSPC')
    return `${path} cannot grow: the disk is full; what was shown as recorded is kept; free some space, then record on into the same file`;
  if (code.startsWith('SQLITE_READONLY'))
    return `${path} may not be written any more; what was shown as recorded is kept; make its folder writable, then record on into the same file`;
  if (code.startsWith('SQLITE_'))
    return `${path} cannot be written (${message}); what was shown as recorded is kept; look at its disk, then record on into the same file`;
  return message;
}
