// The index of the captures in a folder: what each showed, so that ten thousand are listed
// and searched without being opened. It can be thrown away at any time: everything in it
// comes from the captures. A hidden file beside them, or memory where none can be written.

import { accessSync, constants, existsSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { Database } from '../../capture/format/sqlite.ts';
import type { Db } from '../../capture/format/sqlite.ts';
import type { CaptureFile } from '../folder.ts';
import { carPage, dropNights, NIGHT_TABLE, putNight } from './night-table.ts';
import type { CarPage, KeptNight } from './night-table.ts';
import { likePattern } from './words.ts';

export const INDEX_NAME = '.nightdraw-index';
/** SQLite application id of an index: the bytes "NDix". */
const APPLICATION_ID = 0x4e446978;
/** Of the tables below, and of what stands in them. */
const TABLES_VERSION = 4;
/** Another server may be writing; what does not fit in is written the next time. */
const BUSY_MS = 250;
/** What has to be taken out waits longer. */
const BUSY_FORGETTING_MS = 5000;

const TABLES = `
CREATE TABLE basis (text TEXT NOT NULL);
CREATE TABLE shelf (
  name TEXT PRIMARY KEY, version TEXT NOT NULL, bytes INTEGER NOT NULL, written_ms REAL NOT NULL, growing INTEGER NOT NULL,
  last INTEGER NOT NULL, sort_ms REAL NOT NULL, words TEXT NOT NULL, summary TEXT, summary_version TEXT, unfinished TEXT) WITHOUT ROWID;
CREATE INDEX shelf_order ON shelf (last, sort_ms DESC, name);
CREATE INDEX shelf_stale ON shelf (name) WHERE summary_version IS NOT version;
CREATE INDEX shelf_unfinished ON shelf (name) WHERE unfinished IS NOT 'no';
${NIGHT_TABLE}`;

export interface Row {
  file: Omit<CaptureFile, 'path'>;
  /** JSON; null where it was not looked at in this version. */
  summary: string | null;
}

/** What is known of a capture once it was looked at. */
export interface Learned {
  /** JSON. */
  summary: string;
  /** When its night began, milliseconds since 1970; null where not known. */
  began_ms: number | null;
  /** Listed after all others: it cannot be read. */
  last: boolean;
  /** What a search finds it by. */
  words: string;
  /** Null where it cannot be read. */
  night: KeptNight | null;
}

export interface Page {
  rows: Row[];
  /** Captures that have the words. */
  found: number;
  total: number;
}

interface Stored {
  name: string;
  version: string;
  bytes: number;
  written_ms: number;
  growing: number;
  summary: string | null;
  summary_version: string | null;
}

export class ShelfIndex {
  private readonly versions = new Map<string, string>();

  private constructor(private readonly db: Db) {
    for (const { name, version } of db.prepare('SELECT name, version FROM shelf').all() as {
      name: string;
      version: string;
    }[])
      this.versions.set(name, version);
  }

  /**
   * @param basis what the summaries rest on beside the captures: another program or other settings make them anew
   */
  static open(dir: string, basis: string): ShelfIndex {
    const path = join(dir, INDEX_NAME);
    if (writable(dir)) {
      let db = opened(path, basis);
      // One that is damaged, of another version or no index at all is thrown away, once.
      if (db === 'unsound' && thrownAway(path)) db = opened(path, basis);
      if (typeof db !== 'string') return new ShelfIndex(db);
    }
    return new ShelfIndex(made(new Database(':memory:'), basis));
  }

  get size(): number {
    return this.versions.size;
  }

  has(name: string): boolean {
    return this.versions.has(name);
  }

  /**
   * Takes over what is in the folder now.
   * @returns captures that came, went or were written to; and whether all of them have only grown
   */
  reconcile(files: readonly CaptureFile[]): { names: string[]; grew: boolean } {
    const changed = files.filter(({ name, version }) => this.versions.get(name) !== version);
    const present = new Set(files.map(({ name }) => name));
    const gone = [...this.versions.keys()].filter((name) => !present.has(name));
    if (changed.length === 0 && gone.length === 0) return { names: [], grew: true };
    const grew = gone.length === 0 && changed.every(({ name, growing }) => growing && this.versions.has(name));
    this.write(() => {
      // Until its night is known, a capture stands where it was written, and is found by its name.
      const put = this.db
        .prepare(`INSERT INTO shelf (name, version, bytes, written_ms, growing, last, sort_ms, words) VALUES (@name, @version, @bytes, @written_ms, @growing, 0, @written_ms, @words)
        ON CONFLICT (name) DO UPDATE SET version = excluded.version, bytes = excluded.bytes, written_ms = excluded.written_ms, growing = excluded.growing, unfinished = NULL`);
      for (const { name, version, bytes, written_ms, growing } of changed)
        put.run({ name, version, bytes, written_ms, growing: Number(growing), words: name.toLowerCase() });
      const remove = this.db.prepare('DELETE FROM shelf WHERE name = ?');
      for (const name of gone) remove.run(name);
      dropNights(this.db, [...changed.map(({ name }) => name), ...gone]);
    });
    for (const { name, version } of changed) this.versions.set(name, version);
    for (const name of gone) this.versions.delete(name);
    return { names: [...changed.map(({ name }) => name), ...gone], grew };
  }

  learn(name: string, version: string, { summary, began_ms, last, words, night }: Learned): void {
    this.write(() => {
      this.db
        .prepare(
          'UPDATE shelf SET summary = ?, summary_version = ?, last = ?, sort_ms = coalesce(?, written_ms), words = ? WHERE name = ?',
        )
        .run(summary, version, Number(last), began_ms, words, name);
      // What was learned of a version that is over may hold what was taken out since.
      if (night !== null && this.versions.get(name) === version) putNight(this.db, night);
    });
  }

  learnUnfinished(name: string, version: string, unfinished: boolean): void {
    this.write(() =>
      this.db
        .prepare('UPDATE shelf SET unfinished = ? WHERE name = ? AND version = ?')
        .run(unfinished ? 'yes' : 'no', name, version),
    );
  }

  /** Captures that are unfinished, or were not looked at in this version. */
  mayBeUnfinished(): string[] {
    return this.db
      .prepare("SELECT name FROM shelf WHERE unfinished IS NOT 'no' ORDER BY name")
      .pluck()
      .all() as string[];
  }

  /**
   * The newest nights first, those that cannot be read last.
   * @param words all of them must be found; lower case
   */
  page(words: readonly string[], from: number, count: number): Page {
    const where = words.length === 0 ? '' : `WHERE ${words.map(() => "words LIKE ? ESCAPE '\\'").join(' AND ')}`;
    const patterns = words.map(likePattern);
    const found =
      words.length === 0
        ? this.size
        : (this.db
            .prepare(`SELECT count(*) FROM shelf ${where}`)
            .pluck()
            .get(...patterns) as number);
    const rows = this.db
      .prepare(
        `SELECT name, version, bytes, written_ms, growing, summary, summary_version FROM shelf ${where} ORDER BY last, sort_ms DESC, name LIMIT ? OFFSET ?`,
      )
      .all(...patterns, count, from) as Stored[];
    return { rows: rows.map(rowOf), found, total: this.size };
  }

  /** One that was not looked at in this version, none of those in `except`; null where there is none. */
  stale(except: ReadonlySet<string>): string | null {
    for (const { name } of this.db
      .prepare('SELECT name FROM shelf WHERE summary_version IS NOT version')
      .iterate() as IterableIterator<{ name: string }>)
      if (!except.has(name)) return name;
    return null;
  }

  /** Those not looked at in this version, and those that cannot be read. */
  get unread(): number {
    return this.db
      .prepare('SELECT count(*) FROM shelf WHERE summary_version IS NOT version OR last = 1')
      .pluck()
      .get() as number;
  }

  /** Cars, the worst first. */
  cars(from: number, count: number, nights_max: number): CarPage {
    return carPage(this.db, from, count, nights_max);
  }

  private write(work: () => void): void {
    try {
      this.db.transaction(work).immediate();
    } catch (error) {
      // Another server writes, or the disk is full: what is learned again costs time alone.
      if (!/^SQLITE_(BUSY|FULL|IOERR|READONLY)/.test((error as { code?: string }).code ?? '')) throw error;
    }
  }

  close(): void {
    this.db.close();
  }
}

/**
 * Takes out of a folder's index what it holds of one capture, from its bytes too; what stays is learned anew. Nothing
 * where there is no index.
 * @throws Error in one sentence where that cannot be done
 */
export function forgetInIndex(dir: string, name: string): void {
  const path = join(dir, INDEX_NAME);
  if (!existsSync(path)) return;
  try {
    const db = new Database(path, { timeout: BUSY_FORGETTING_MS });
    try {
      // An index of another version is thrown away by the next server, and holds the words until then.
      if (!isOurs(db)) throw new Error('it is of another version');
      db.pragma('secure_delete = ON');
      db.transaction(() => {
        db.prepare('UPDATE shelf SET words = lower(name), summary = NULL, summary_version = NULL WHERE name = ?').run(
          name,
        );
        dropNights(db, [name]);
      }).immediate();
      db.exec('VACUUM');
      db.pragma('wal_checkpoint(TRUNCATE)');
    } finally {
      db.close();
    }
  } catch (error) {
    throw new Error(
      `${path} may still name what was taken out (${(error as Error).message}); delete it, it is made anew by itself`,
      { cause: error },
    );
  }
}

const isOurs = (db: Db): boolean =>
  db.pragma('application_id', { simple: true }) === APPLICATION_ID &&
  db.pragma('user_version', { simple: true }) === TABLES_VERSION;

const rowOf = ({ name, version, bytes, written_ms, growing, summary, summary_version }: Stored): Row => ({
  file: { name, version, bytes, written_ms, growing: growing === 1 },
  summary: summary_version === version ? summary : null,
});

function writable(dir: string): boolean {
  try {
    accessSync(dir, constants.W_OK);
    return true;
  } catch {
    return false;
  }
}

/** @returns whether it is gone */
function thrownAway(path: string): boolean {
  try {
    for (const end of ['', '-wal', '-shm', '-journal']) rmSync(path + end, { force: true });
    return true;
  } catch {
    return false;
  }
}

/** `unsound`: no index of this version; `busy`: another server has it to itself just now. */
function opened(path: string, basis: string): Db | 'unsound' | 'busy' {
  let db: Db | null = null;
  try {
    db = new Database(path, { timeout: BUSY_MS });
    const isNew = (db.prepare('SELECT count(*) FROM sqlite_master').pluck().get() as number) === 0;
    const sound = isNew || (isOurs(db) && db.pragma('quick_check(1)', { simple: true }) === 'ok');
    // A word that was changed or taken out is in none of its bytes afterwards.
    db.pragma('secure_delete = ON');
    if (sound) return isNew ? made(db, basis) : basedOn(db, basis);
    db.close();
    return 'unsound';
  } catch (error) {
    db?.close();
    return /^SQLITE_BUSY/.test((error as { code?: string }).code ?? '') ? 'busy' : 'unsound';
  }
}

function made(db: Db, basis: string): Db {
  db.pragma('journal_mode = WAL');
  // What is lost with a power cut is learned again.
  db.pragma('synchronous = OFF');
  db.transaction(() => {
    db.exec(TABLES);
    db.pragma(`application_id = ${APPLICATION_ID}`);
    db.pragma(`user_version = ${TABLES_VERSION}`);
    db.prepare('INSERT INTO basis (text) VALUES (?)').run(basis);
  }).immediate();
  return db;
}

function basedOn(db: Db, basis: string): Db {
  db.pragma('synchronous = OFF');
  if (db.prepare('SELECT text FROM basis').pluck().get() === basis) return db;
  db.transaction(() => {
    db.exec('DELETE FROM shelf; DELETE FROM night; DELETE FROM basis;');
    db.prepare('INSERT INTO basis (text) VALUES (?)').run(basis);
  }).immediate();
  return db;
}
