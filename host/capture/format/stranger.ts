// What must hold of a capture's file before anything else reads or writes it: it may come by
// mail, from a stick, from a customer. It is data, never program: a trigger, a view or a
// table of another shape would run or stand in with the next statement of ours.

import { lstatSync } from 'node:fs';
import { Database } from './sqlite.ts';
import type { Db } from './sqlite.ts';

/** Files that SQLite itself opens beside a database. */
const BESIDE = ['-wal', '-shm', '-journal'];

interface SchemaRow {
  type: string;
  name: string;
  sql: string | null;
}

/** Ours are 25 rows of some kilobytes; a schema beyond this is nobody's capture and need not be read. */
const ROWS_MOST = 100;
const SQL_BYTES_MOST = 100_000;

/**
 * A pipe or a device beside a capture would be waited for, without an end.
 * @throws Error in one sentence
 */
export function requireOrdinaryBeside(path: string): void {
  for (const ending of BESIDE) {
    const found = lstatSync(path + ending, { throwIfNoEntry: false });
    if (found !== undefined && !found.isFile())
      throw new Error(`${path}${ending} is no ordinary file; take it away before ${path} is opened`);
  }
}

/**
 * @param tables the statements that make a capture of this version
 * @param optional those of tables that only some captures have
 * @returns the names of the tables that it has
 * @throws Error in one sentence naming what is not ours
 */
export function requireOurSchema(db: Db, path: string, tables: string, optional: string): ReadonlySet<string> {
  const { rows, bytes } = db
    .prepare('SELECT count(*) AS rows, total(length(sql)) AS bytes FROM sqlite_schema')
    .get() as { rows: number; bytes: number };
  if (rows > ROWS_MOST || bytes > SQL_BYTES_MOST) throw foreign(path, `${rows} tables and the like`);
  const found = schemaOf(db);
  const ours = shapesOf(tables);
  const more = shapesOf(optional);
  for (const [name, shape] of found)
    if ((ours.get(name) ?? more.get(name)) !== shape) throw foreign(path, `'${printable(name)}'`);
  for (const name of ours.keys())
    if (!found.has(name))
      throw new Error(
        `${path} is no capture as nightdraw makes it: its table '${name}' is missing; take another copy of it`,
      );
  return new Set(found.keys());
}

const foreign = (path: string, what: string) =>
  new Error(
    `${path} is no capture as nightdraw makes it: it holds ${what}, which may be a program in disguise; do not use it, and ask for another copy`,
  );

const printable = (text: string) => text.replace(/[^\x20-\x7e]/g, '.').slice(0, 40);

const shapeOf = ({ type, sql }: SchemaRow): string => `${type} ${(sql ?? '').replace(/\s+/g, ' ')}`;

const schemaOf = (db: Db): Map<string, string> =>
  new Map(
    (db.prepare('SELECT type, name, sql FROM sqlite_schema').all() as SchemaRow[]).map((row) => [
      row.name,
      shapeOf(row),
    ]),
  );

const known = new Map<string, Map<string, string>>();

/** As SQLite itself writes them down. */
function shapesOf(statements: string): Map<string, string> {
  let shapes = known.get(statements);
  if (shapes === undefined) {
    const db = new Database(':memory:');
    db.exec(statements);
    shapes = schemaOf(db);
    db.close();
    known.set(statements, shapes);
  }
  return shapes;
}
