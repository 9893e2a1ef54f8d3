// What a recorder needs to know of an unfinished capture to go on where it stopped.

import { openCapture } from '../read/reader.ts';
import { openForReading } from '../format/schema.ts';
import type { Db } from '../format/schema.ts';
import { RAW, VOLTAGES, WINDOWS } from '../format/streams.ts';
import type { BlockBytes } from '../format/streams.ts';
import { Stored } from '../read/stored.ts';
import { readHost } from '../format/shapes.ts';
import type { CaptureInfo, ClockKnot, Reading, Run } from '../../contract/capture.ts';

/** Place of the last reading of a kind within the last run. */
export interface LastReading {
  kind: Reading['kind'];
  seq: number;
  t_us: number;
}

export interface ResumePoint {
  /** The last run, null where none began. */
  run: Run | null;
  clock: ClockKnot[];
  last: LastReading[];
  /** Wall clock at the axis' zero, milliseconds since 1970. */
  axis_ms: number;
  /** From the first sample to the end of the last, seconds. */
  recorded_s: number;
  /** End of the last sample on the axis, microseconds. */
  end_us: number;
  badLineCount: number;
  /** The clocks of the computer that recorded, at its last transaction; null in captures that do not tell. */
  host: { axis_us: number; wall_ms: number; up_s: number } | null;
}

/**
 * Reads where an unfinished capture stopped.
 * @throws Error in one sentence where the file is no capture or may not be resumed.
 */
export function readResumePoint(path: string): ResumePoint {
  const info = readInfo(path);
  if (info.kind === 'imported')
    throw new Error(`${path} is an imported capture and cannot be recorded into; give another name`);
  if (info.state === 'finished') throw new Error(`${path} holds a finished recording; give another name`);
  const { db, close } = openForReading(path);
  try {
    const run = info.runs[info.runs.length - 1] ?? null;
    const { axis_ms } = new Stored(path, db).info();
    if (axis_ms === null)
      throw new Error(`${path} is damaged: it is a recording, and does not say when it began; take another copy of it`);
    const clock = db
      .prepare('SELECT t_us, axis_us FROM clock WHERE run = ? ORDER BY t_us')
      .all(run?.id ?? 0) as ClockKnot[];
    const last = run === null ? [] : lastReadings(db, run.id);
    const end_us = info.start_ms === null ? 0 : (info.start_ms - axis_ms) * 1000 + info.duration_s * 1e6;
    const stamp = db.prepare("SELECT value FROM info WHERE key = 'host'").pluck().get() as string | undefined;
    const host = stamp === undefined ? null : readHost(path, stamp);
    return { host, run, clock, last, axis_ms, recorded_s: info.duration_s, end_us, badLineCount: info.badLineCount };
  } finally {
    close();
  }
}

function readInfo(path: string): CaptureInfo {
  const capture = openCapture(path);
  try {
    return capture.info();
  } finally {
    capture.close();
  }
}

function lastReadings(db: Db, run: number): LastReading[] {
  const found: LastReading[] = [];
  const block = db.prepare(
    'SELECT count, crc32, data FROM block WHERE run = ? AND stream = ? ORDER BY last_t_us DESC LIMIT 1',
  );
  for (const stream of [WINDOWS, VOLTAGES, RAW]) {
    const row = block.get(run, stream.stream) as BlockBytes | undefined;
    const last = row === undefined ? undefined : stream.decode(row).at(-1);
    if (last !== undefined) found.push({ kind: stream.kind, seq: last.seq, t_us: last.t_us });
  }
  const status = db.prepare('SELECT seq, t_us FROM status WHERE run = ? ORDER BY id DESC LIMIT 1').get(run) as
    | { seq: number; t_us: number }
    | undefined;
  if (status !== undefined) found.push({ kind: 'status', ...status });
  return found;
}
