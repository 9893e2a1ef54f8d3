// A capture that was changed at random, as a bad stick, a bad copy or somebody who means harm
// changes one: bits, bytes, pages, lengths, the schema, single values, and the bytes of blocks
// under a check value that fits them.
import { copyFileSync, readFileSync, truncateSync, writeFileSync } from 'node:fs';
import { deflateRawSync } from 'node:zlib';
import { seededRandom } from '../../../host/emulator/random.ts';
import { blockCrc } from '../../../host/capture/format/blocks.ts';
import { Database } from '../../../host/capture/format/sqlite.ts';
import type { Db } from '../../../host/capture/format/sqlite.ts';

const PAGE = 4096;
const TABLES = [
  'info',
  'run',
  'clock',
  'block',
  'summary',
  'status',
  'mark',
  'bad_line',
  'calibration',
  'bay',
  'bay_state',
] as const;
/** Values that programs trip over, as SQL. */
const NASTY = [
  'NULL',
  '0',
  '-1',
  '1',
  '2147483648',
  '9007199254740993',
  '-9223372036854775808',
  '1e300',
  '-1e300',
  '9e999',
  '-9e999',
  '0.1',
  "''",
  "'x'",
  "x'00'",
  "x''",
  "'{}'",
  "'[]'",
  "'null'",
  "'-1'",
  "'1e999'",
  '\'"\u0000"\'',
  'zeroblob(70000)',
  'hex(zeroblob(40000))',
  "'\u001b[2J\n\u202e'",
  '\'{"__proto__":{"x":1}}\'',
];
const SCHEMA = [
  'CREATE TRIGGER t AFTER UPDATE ON info BEGIN DELETE FROM block; END',
  'CREATE TRIGGER t AFTER INSERT ON mark BEGIN DELETE FROM mark; END',
  "DROP TABLE mark; CREATE VIEW mark AS WITH RECURSIVE n(id) AS (SELECT 1 UNION ALL SELECT id + 1 FROM n) SELECT id, 0.0 AS axis_us, 'x' AS text FROM n",
  'DROP TABLE clock',
  'ALTER TABLE block ADD COLUMN x',
  'CREATE TABLE x (y)',
  'CREATE INDEX i ON block (count)',
  'PRAGMA application_id = 1',
  'PRAGMA user_version = 0',
  'PRAGMA user_version = 3',
  'CREATE VIRTUAL TABLE f USING fts5 (x)',
  'ALTER TABLE status RENAME COLUMN detail TO more',
  'DELETE FROM block',
  'DELETE FROM run',
  'DELETE FROM info',
  'DELETE FROM clock',
  'DELETE FROM summary',
];

export interface Mutant {
  /** What was done to it, for whoever reads a failure. */
  how: string;
}

/** Writes to `out` what chance makes of the capture at `from`. The same seed makes the same. */
export function mutate(seed: number, from: string, out: string): Mutant {
  const random = seededRandom(seed);
  const below = (n: number) => Math.floor(random() * n);
  const pick = <T>(values: readonly T[]): T => values[below(values.length)]!;
  const bytes = (change: (data: Buffer) => string | Buffer): string => {
    const data = readFileSync(from);
    const done = change(data);
    writeFileSync(out, typeof done === 'string' ? data : done);
    return typeof done === 'string' ? done : `${done.length} bytes`;
  };
  const sql = (work: (db: Db) => string): string => {
    copyFileSync(from, out);
    const db = new Database(out);
    try {
      db.pragma('synchronous = OFF');
      db.pragma('journal_mode = MEMORY');
      return work(db);
    } finally {
      db.close();
    }
  };
  const ways: (() => string)[] = [
    () =>
      bytes((data) => {
        const n = 1 + below(pick([1, 8, 64]));
        for (let i = 0; i < n; i++) data[below(data.length)]! ^= 1 << below(8);
        return `${n} bits`;
      }),
    // The head, and the heads of pages and cells: where lengths and places stand.
    () =>
      bytes((data) => {
        const at = pick([below(100), below(data.length / PAGE) * PAGE + below(24), 100 + below(400)]);
        data[at] = pick([0, 1, 0x7f, 0x80, 0xff, below(256)]);
        return `byte ${at} is ${data[at]}`;
      }),
    () =>
      bytes((data) => {
        const pages = Math.floor(data.length / PAGE),
          [a, b] = [below(pages), below(pages)];
        const held = Buffer.from(data.subarray(a * PAGE, (a + 1) * PAGE));
        data.copy(data, a * PAGE, b * PAGE, (b + 1) * PAGE);
        held.copy(data, b * PAGE);
        return `pages ${a} and ${b} changed places`;
      }),
    () =>
      bytes((data) => {
        const pages = Math.floor(data.length / PAGE),
          a = below(pages);
        data.fill(pick([0, 0xff]), a * PAGE, (a + 1) * PAGE);
        return `page ${a} wiped`;
      }),
    () => {
      copyFileSync(from, out);
      const size = below(readFileSync(from).length);
      truncateSync(out, size);
      return `cut to ${size} bytes`;
    },
    () =>
      sql((db) => {
        const statement = pick(SCHEMA);
        try {
          db.exec(statement);
        } catch {
          // Its table is not in every capture.
        }
        return statement;
      }),
    ...Array.from({ length: 4 }, () => () => sql((db) => value(db, pick, below))),
    ...Array.from({ length: 4 }, () => () => sql((db) => block(db, pick, below))),
    () => sql((db) => words(db, pick)),
  ];
  return { how: pick(ways)() };
}

type Pick = <T>(values: readonly T[]) => T;

/** One value of one row is another. */
function value(db: Db, pick: Pick, below: (n: number) => number): string {
  const there = TABLES.filter(
    (table) => db.prepare('SELECT 1 FROM sqlite_schema WHERE name = ?').get(table) !== undefined,
  );
  const table = pick(there);
  const columns = (db.pragma(`table_info(${table})`) as { name: string }[]).map(({ name }) => name);
  const column = pick(columns),
    nasty = pick(NASTY);
  const rows = db.prepare(`SELECT count(*) FROM ${table}`).pluck().get() as number;
  if (rows === 0) return `${table} is empty`;
  const row = db.prepare(`SELECT * FROM ${table} LIMIT 1 OFFSET ?`).get(below(rows)) as Record<string, unknown>;
  const key = columns[0]!;
  const set = `UPDATE OR IGNORE ${table} SET ${column} = ${nasty} WHERE ${key} IS ?`;
  try {
    db.prepare(set).run(row[key]);
  } catch {
    // The table itself does not take it.
  }
  return `${set} ${String(row[key])}`;
}

/** The bytes of a block are others, and their check value fits. */
function block(db: Db, pick: Pick, below: (n: number) => number): string {
  const rows = db.prepare('SELECT id, data FROM block ORDER BY id').all() as { id: number; data: Buffer }[];
  if (rows.length === 0) return 'no block';
  const { id, data } = pick(rows);
  const changed = Buffer.from(data);
  let how: string;
  let out: Buffer = changed;
  switch (below(5)) {
    case 0:
      for (let i = 0; i < 1 + below(8); i++) changed[below(changed.length)] = below(256);
      how = 'bytes';
      break;
    case 1:
      out = changed.subarray(0, below(changed.length));
      how = 'cut';
      break;
    case 2:
      out = Buffer.concat([Uint8Array.of(1), deflateRawSync(Buffer.alloc(pick([0, 1000, 1 << 20, 40 << 20])))]);
      how = 'packed zeros';
      break;
    case 3:
      out = Buffer.concat([Uint8Array.of(0), Buffer.alloc(below(2000), pick([0, 0x80, 0xff]))]);
      how = 'plain bytes of one kind';
      break;
    default:
      changed[0] = below(256);
      how = 'another packing';
  }
  db.prepare('UPDATE block SET data = ?, crc32 = ? WHERE id = ?').run(out, blockCrc(out), id);
  return `block ${id}: ${how}`;
}

/** One member of a JSON text is another. */
function words(db: Db, pick: Pick): string {
  const member = pick([
    'shunt_nOhm',
    'gain_ppm',
    'offset_nV',
    'speed',
    'window_us',
    'id',
    'boot',
    'fw',
    'kind',
    'sensor',
    'stream',
    'proto',
  ]);
  const nasty = pick([
    '0',
    '-1',
    '1e308',
    '-1e308',
    '1e-300',
    "'x'",
    'NULL',
    "json('[]')",
    "json('{}')",
    '9007199254740993',
    "'\u001b[31m'",
  ]);
  db.exec(`UPDATE run SET hello = json_set(hello, '$.${member}', ${nasty})`);
  return `hello.${member} = ${nasty}`;
}
