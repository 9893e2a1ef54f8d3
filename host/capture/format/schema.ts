// The tables of a capture file and the two numbers that say what file it is.
// SPEC.md describes each table; this file makes and checks them.

import { accessSync, constants, existsSync, statSync } from 'node:fs';
import { Database } from './sqlite.ts';
import type { Db } from './sqlite.ts';
import { requirePossibleRows } from './possible.ts';
import { requireOrdinaryBeside, requireOurSchema } from './stranger.ts';

/** SQLite application id of a capture: the bytes "NDcp". */
export const APPLICATION_ID = 0x4e446370;

/** SQLite user_version: the version of SPEC.md that the file follows. */
export const FORMAT_VERSION = 2;

export type { Db, Statement } from './sqlite.ts';

/** How long a reader or writer waits for another connection's lock. */
const BUSY_MS = 2000;

const TABLES_1 = `
CREATE TABLE info (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE run (id INTEGER PRIMARY KEY, reason TEXT NOT NULL, began_ms REAL NOT NULL, hello TEXT NOT NULL);
CREATE TABLE clock (run INTEGER NOT NULL, t_us INTEGER NOT NULL, axis_us REAL NOT NULL, PRIMARY KEY (run, t_us)) WITHOUT ROWID;
CREATE TABLE block (
  id INTEGER PRIMARY KEY, stream INTEGER NOT NULL, run INTEGER NOT NULL, pending INTEGER NOT NULL,
  first_t_us NUMERIC NOT NULL, last_t_us NUMERIC NOT NULL, count INTEGER NOT NULL, crc32 INTEGER NOT NULL, data BLOB NOT NULL);
CREATE TABLE summary (block INTEGER PRIMARY KEY, data BLOB NOT NULL);
CREATE TABLE status (id INTEGER PRIMARY KEY, run INTEGER NOT NULL, seq INTEGER NOT NULL, t_us INTEGER NOT NULL, code TEXT NOT NULL, detail INTEGER NOT NULL);
CREATE TABLE mark (id INTEGER PRIMARY KEY, axis_us REAL NOT NULL, text TEXT NOT NULL);
CREATE TABLE bad_line (id INTEGER PRIMARY KEY, wall_ms REAL NOT NULL, reason TEXT NOT NULL, line TEXT NOT NULL);
`;

/** What format 2 added: raw conversions, what the sense chip can do, later calibrations. */
const ADDED_2 = `
ALTER TABLE block ADD COLUMN covered_us NUMERIC;
ALTER TABLE run ADD COLUMN limits TEXT;
CREATE TABLE calibration (
  id INTEGER PRIMARY KEY, made_ms REAL NOT NULL, reason TEXT NOT NULL,
  shunt_nOhm REAL, gain_ppm REAL, offset_nV REAL);
`;

/** Where there was work in the bay. */
export const BAY_TABLES = `
CREATE TABLE IF NOT EXISTS bay (id INTEGER PRIMARY KEY, t_s REAL NOT NULL, code TEXT NOT NULL, text TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS bay_state (id INTEGER PRIMARY KEY CHECK (id = 1), state TEXT NOT NULL);
`;

/** Lays out an empty capture in a file that does not exist yet. */
export function createTables(db: Db): void {
  db.pragma(`application_id = ${APPLICATION_ID}`);
  db.exec(TABLES_1);
  db.exec(ADDED_2);
  db.pragma(`user_version = ${FORMAT_VERSION}`);
}

/** The format of an opened capture. */
export const versionOf = (db: Db): number => Number(db.pragma('user_version', { simple: true }));

/**
 * Brings an older capture to this format; its readings stay as they are. For whoever writes what only this one holds.
 */
export function upgrade(db: Db): void {
  db.transaction(() => {
    if (versionOf(db) >= FORMAT_VERSION) return;
    db.exec(ADDED_2);
    db.pragma(`user_version = ${FORMAT_VERSION}`);
  }).immediate();
}

/**
 * Whether a file is a SQLite database, asked of SQLite itself. Opening and closing it
 * behind SQLite's back would drop the locks of every other connection of this process
 * (sqlite.org/howtocorrupt.html, section 2.2).
 * @throws Error in one sentence where the file cannot be read at all.
 */
export function kindOfFile(path: string): 'empty' | 'database' | 'other' {
  const alone = !existsSync(logOf(path));
  const found = connect(path, { readonly: true });
  if (typeof found === 'string') return found;
  closeReader(found, path, alone);
  return 'database';
}

/** Opens a file and lets SQLite look at it; what it is where it is no database. @throws as `kindOfFile` */
function connect(path: string, options: { readonly: boolean }): Db | 'empty' | 'other' {
  let size: number;
  try {
    accessSync(path, constants.R_OK);
    const found = statSync(path);
    if (found.isDirectory()) throw Object.assign(new Error('a folder'), { code: 'EISDIR' });
    if (!found.isFile()) throw Object.assign(new Error('no ordinary file'), { code: 'ENOTFILE' });
    size = found.size;
  } catch (error) {
    throw new Error(unreadable(path, error as NodeJS.ErrnoException), { cause: error });
  }
  if (size === 0) return 'empty';
  requireOrdinaryBeside(path);
  let db: Db | undefined;
  try {
    db = new Database(path, { readonly: options.readonly, fileMustExist: true, timeout: BUSY_MS });
    // Its schema is looked at before it is believed; nothing in it may call what SQLite offers.
    db.pragma('trusted_schema = OFF');
    db.pragma('cell_size_check = ON');
    db.pragma('schema_version');
    return db;
  } catch (error) {
    db?.close();
    if (isDatabaseError(error) && error.code === 'SQLITE_NOTADB') return 'other';
    throw isDatabaseError(error) ? new Error(damaged(path, error), { cause: error }) : error;
  }
}

/** Where SQLite keeps what is not in the file yet. */
const logOf = (path: string) => `${path}-wal`;

/**
 * Closes what was opened for reading. A reader makes `-wal` and `-shm` beside a capture in
 * WAL mode and cannot take them away again: where it made them, or where the recording is
 * finished and its recorder could not for a reader, one connection that writes is opened and
 * closed. SQLite itself then takes them away, if nobody else has the file open.
 * @param alone whether there was no `-wal` before the reader came
 */
function closeReader(db: Db, path: string, alone: boolean): void {
  const finished = isFinished(db);
  db.close();
  if (finished === null || !(alone || finished) || !existsSync(logOf(path))) return;
  let sweeper: Db | undefined;
  try {
    sweeper = new Database(path, { fileMustExist: true, timeout: 0 });
    sweeper.pragma(finished ? 'journal_mode = DELETE' : 'schema_version');
  } catch {
    // Read-only or in use: whoever closes it last tidies up.
  } finally {
    sweeper?.close();
  }
}

/** Null where it is no capture, or not to be read. */
function isFinished(db: Db): boolean | null {
  try {
    if (db.pragma('application_id', { simple: true }) !== APPLICATION_ID) return null;
    return db.prepare("SELECT value FROM info WHERE key = 'state'").pluck().get() === '"finished"';
  } catch {
    return null;
  }
}

/** A capture that is open for reading. */
export interface OpenedReader {
  db: Db;
  close: () => void;
}

/** Opens a capture for reading and leaves nothing beside it afterwards. @throws as `openDatabase` */
export function openForReading(path: string): OpenedReader {
  const opened = openIfDatabase(path);
  if (typeof opened === 'string') throw new Error(noCapture(path, opened));
  return opened;
}

/** The same for a file that may be something else: it says what. @throws as `openDatabase` of a database */
export function openIfDatabase(path: string): OpenedReader | 'empty' | 'other' {
  const alone = !existsSync(logOf(path));
  const found = connect(path, { readonly: true });
  if (typeof found === 'string') return found;
  return { db: checked(found, path), close: () => closeReader(found, path, alone) };
}

/**
 * Opens an existing capture and makes sure that this version can read it.
 * @throws Error in one sentence: not there, not a capture, or written by a newer version.
 */
export function openDatabase(path: string, options: { readonly: boolean }): Db {
  const found = connect(path, options);
  if (typeof found === 'string') throw new Error(noCapture(path, found));
  return checked(found, path);
}

const noCapture = (path: string, kind: 'empty' | 'other') =>
  kind === 'empty' ? `${path} is empty: it holds no capture` : `${path} is not a capture: it does not begin as one`;

function checked(db: Db, path: string): Db {
  try {
    requireOurs(db, path);
    return db;
  } catch (error) {
    db.close();
    throw isDatabaseError(error) ? new Error(damaged(path, error), { cause: error }) : error;
  }
}

/** @throws Error in one sentence where it is no capture that this version can read and understand */
export function requireOurs(db: Db, path: string): void {
  if (db.pragma('application_id', { simple: true }) !== APPLICATION_ID) {
    throw new Error(`${path} is a database of some other program, not a capture`);
  }
  const version = versionOf(db);
  if (version > FORMAT_VERSION) {
    throw new Error(
      `${path} is a capture of format ${version}, made by a newer nightdraw; this one reads up to format ${FORMAT_VERSION}: install the newer one`,
    );
  }
  if (version < 1) throw new Error(`${path} was never completed as a capture (format ${version})`);
  requirePossibleRows(db, path, requireOurSchema(db, path, version === 1 ? TABLES_1 : TABLES_1 + ADDED_2, BAY_TABLES));
}

export function isDatabaseError(error: unknown): error is Error & { code: string } {
  return error instanceof Database.SqliteError;
}

/** One sentence for a file that SQLite cannot read on, with the next step. */
export function damaged(path: string, error: Error & { code: string }): string {
  if (error.code.startsWith('SQLITE_BUSY')) return `${path} is in use by another program; try again when that is done`;
  return `${path} is damaged or was cut short (${error.message}); take another copy of it, with the -wal file beside it if there is one`;
}

/** One sentence for a file that the system would not open, with the next step. */
export function unreadable(path: string, error: NodeJS.ErrnoException): string {
  if (error.code === 'ENOENT') return `${path} does not exist; check the name`;
  if (error.code === 'EACCES' || error.code === 'EPERM')
    return `${path} may not be read by this user; check its permissions`;
  if (error.code === 'EISDIR') return `${path} is a folder, not a file`;
  if (error.code === 'ENOTFILE') return `${path} is no ordinary file: a capture is one`;
  return `${path} cannot be read (${error.code ?? error.message})`;
}
