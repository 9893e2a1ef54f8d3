// The tables of a capture file and the two numbers that say what file it is.
// SPEC.md describes each table; this file makes and checks them.

import Database from 'better-sqlite3';
import { closeSync, openSync, readSync } from 'node:fs';

/** SQLite application id of a capture: the bytes "NDcp". */
export const APPLICATION_ID = 0x4e446370;

/** SQLite user_version: the version of SPEC.md that the file follows. */
export const FORMAT_VERSION = 1;

export type Db = Database.Database;

const TABLES = `
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

/** Lays out an empty capture in a file that does not exist yet. */
export function createTables(db: Db): void {
  db.pragma(`application_id = ${APPLICATION_ID}`);
  db.exec(TABLES);
  db.pragma(`user_version = ${FORMAT_VERSION}`);
}

/**
 * Opens an existing capture and makes sure that this version can read it.
 * @throws Error in one sentence: not there, not a capture, or written by a newer version.
 */
export function openDatabase(path: string, options: { readonly: boolean }): Db {
  const kind = sniff(path);
  if (kind === 'empty') throw new Error(`${path} is empty: it holds no capture`);
  if (kind !== 'database') throw new Error(`${path} is not a capture: it does not begin as one`);
  let db: Db | undefined;
  try {
    db = new Database(path, { readonly: options.readonly, fileMustExist: true, timeout: 2000 });
    checkVersion(db, path);
    return db;
  } catch (error) {
    db?.close();
    throw isDatabaseError(error) ? new Error(`${path} cannot be read as a capture (${error.message})`) : error;
  }
}

function checkVersion(db: Db, path: string): void {
  if (db.pragma('application_id', { simple: true }) !== APPLICATION_ID) {
    throw new Error(`${path} is a database of some other program, not a capture`);
  }
  const version = Number(db.pragma('user_version', { simple: true }));
  if (version > FORMAT_VERSION) {
    throw new Error(
      `${path} is a capture of format ${version}, made by a newer nightdraw; this one reads up to format ${FORMAT_VERSION}: install the newer one`,
    );
  }
  if (version < 1) throw new Error(`${path} was never completed as a capture (format ${version})`);
}

export function isDatabaseError(error: unknown): error is Error & { code: string } {
  return error instanceof Database.SqliteError;
}

const DATABASE_HEAD = 'SQLite format 3\0';

/**
 * What a file is by its first bytes, whatever it is called.
 * @throws Error in one sentence where it cannot be read at all.
 */
export function sniff(path: string): 'empty' | 'database' | 'text' | 'binary' {
  const head = Buffer.alloc(4096);
  let length: number;
  try {
    const fd = openSync(path, 'r');
    try {
      length = readSync(fd, head, 0, head.length, 0);
    } finally {
      closeSync(fd);
    }
  } catch (error) {
    throw new Error(unreadable(path, error as NodeJS.ErrnoException), { cause: error });
  }
  if (length === 0) return 'empty';
  if (head.toString('latin1', 0, DATABASE_HEAD.length) === DATABASE_HEAD) return 'database';
  // Text has no zero bytes, and no controls but tab, line ends and form feed.
  for (let i = 0; i < length; i++) {
    const byte = head[i]!;
    if (byte < 0x20 && byte !== 9 && byte !== 10 && byte !== 12 && byte !== 13) return 'binary';
  }
  return 'text';
}

/** One sentence for a file that the system would not open, with the next step. */
export function unreadable(path: string, error: NodeJS.ErrnoException): string {
  if (error.code === 'ENOENT') return `${path} does not exist; check the name`;
  if (error.code === 'EACCES' || error.code === 'EPERM') return `${path} may not be read by this user; check its permissions`;
  if (error.code === 'EISDIR') return `${path} is a folder, not a file`;
  return `${path} cannot be read (${error.code ?? error.message})`;
}
