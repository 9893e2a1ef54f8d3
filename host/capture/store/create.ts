// Makes a capture file: it has its name complete or not at all, and never takes
// another file's.

import { closeSync, existsSync, fsyncSync, linkSync, openSync, renameSync, rmSync } from 'node:fs';
import { TEXT_BYTES_MOST } from '../format/possible.ts';
import { createTables } from '../format/schema.ts';
import type { InfoValues } from '../format/shapes.ts';
import { Database } from '../format/sqlite.ts';
import type { Db } from '../format/schema.ts';
import type { Certificate, Personal } from '../../contract/capture.ts';

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
  /** Of the board that is recorded. */
  certificate?: Certificate | null;
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
      const { personal = {}, certificate = null, ...rest } = about;
      putInfo(db, { ...rest, ...personal, ...certificateRows(certificate), state: 'recording', bad_line_count: 0 });
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

/** A certificate as values of table `info`: the name apart, so that it can be taken out. */
function certificateRows(certificate: Certificate | null): Partial<InfoValues> {
  if (certificate === null) return {};
  const { by, ...rest } = certificate;
  return { certificate: rest, ...(by === '' ? {} : { checked_by: by }) };
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
    if ((error as NodeJS.ErrnoException).code === 'EEXIST' || existsSync(path))
      throw Object.assign(new Error('taken'), { code: 'EEXIST' });
    renameSync(draft, path);
  }
}

/** What a disk that takes no new capture says to the user. */
export function unwritable(path: string, error: NodeJS.ErrnoException): string {
  if (error.code === 'EEXIST') return `${path} exists already; give another name`;
  if (error.code === 'ENOSPC' || error.code === 'SQLITE_FULL') return `${path} cannot be written: the disk is full`;
  return `${path} cannot be written (${error.message}); check that its folder exists and may be written to`;
}

/** Sets values of table `info`. @throws Error where one is too long to be read again */
export function putInfo(db: Db, values: object): void {
  const put = db.prepare('INSERT OR REPLACE INTO info (key, value) VALUES (?, ?)');
  for (const [key, value] of Object.entries(values)) {
    const text = JSON.stringify(value);
    if (Buffer.byteLength(text) > TEXT_BYTES_MOST)
      throw new Error(`'${key}' is too long: ${Buffer.byteLength(text)} bytes, and ${TEXT_BYTES_MOST} are the most`);
    put.run(key, text);
  }
}
