// What the rows of a capture can mean, looked at once as it is opened and before any of them
// is read: a number, a text or a length beyond it was written by no recorder, and would take
// memory or stand in an answer that nobody can use. SQLite measures a text or a blob by the
// head of its row, so that a large one costs nothing here.

import { STREAM } from './blocks.ts';
import type { Db } from './sqlite.ts';

/** A text of the program or of a person: the longest, a hello, has some hundred bytes. */
export const TEXT_BYTES_MOST = 64 * 1024;
/** The state of work in the bay holds its feed tree (at most 100 000 letters) and its whole log. */
const STATE_BYTES_MOST = 16 * 2 ** 20;
/** All texts of a table together: they are read at once. */
const TEXTS_BYTES_MOST = 64 * 2 ** 20;
/** A block's bytes, packed. Of the most readings in a block, and eight bytes for each. */
const BLOCK_BYTES_MOST = 8 * 2 ** 20;
/** Blocks are merged at some thousands of readings and imported by some ten thousands (streams.ts, csv-rows.ts). */
const COUNT_MOST = 2 ** 20;
/**
 * Memory is taken by the readings of a whole capture, and a few bytes may claim any number of
 * them. So many are free, though all alike they pack to nothing; more of them have noise, and
 * cost bytes. Windows for two days, with all that a window has; points for as many bytes of
 * memory; conversions, which are read block by block, for nineteen hours.
 */
const READINGS: Record<number, { free: number; perByte: number }> = {
  [STREAM.windows]: { free: 2 ** 22, perByte: 4 },
  [STREAM.voltage]: { free: 2 ** 22, perByte: 4 },
  [STREAM.points]: { free: 2 ** 24, perByte: 32 },
  [STREAM.raw]: { free: 2 ** 26, perByte: 16 },
};
/** Device and axis times, either sign: as far from zero as today is from 1970, and as far again. */
export const TIME_MOST_s = 4e9;
const TIME_us = TIME_MOST_s * 1e6;
/** Wall clock times that JavaScript can write as a date (ECMA-262, 21.4.1.1). */
export const DATE_MOST_ms = 8.64e15;
/** Near it a double keeps no halves any more, and nothing of ours is as large. */
export const NUMBER_MOST = 1e15;

const number = (column: string, most = NUMBER_MOST) =>
  `typeof(${column}) IN ('integer', 'real') AND ${column} BETWEEN ${-most} AND ${most}`;
const whole = (column: string, from: number, to: number) =>
  `typeof(${column}) = 'integer' AND ${column} BETWEEN ${from} AND ${to}`;
const orNull = (column: string, condition: string) => `(${column} IS NULL OR ${condition})`;
const text = (column: string, most = TEXT_BYTES_MOST) =>
  `typeof(${column}) = 'text' AND octet_length(${column}) <= ${most}`;

interface Rule {
  table: string;
  /** What tells its rows apart. */
  key: string;
  /** Each must be true of every row. */
  conditions: string[];
  texts: string[];
  /**
   * More than a board that starts again each second for a weekend brings, or one that tells of a fault at each window.
   */
  rows_most: number;
}

const RUN = 'run IN (SELECT id FROM run)';

const RULES: readonly Rule[] = [
  { table: 'info', key: 'key', conditions: [text('key', 100), text('value')], texts: ['value'], rows_most: 300_000 },
  {
    table: 'run',
    key: 'id',
    conditions: [number('began_ms', DATE_MOST_ms), text('reason', 100), text('hello')],
    texts: ['hello'],
    rows_most: 200_000,
  },
  {
    table: 'clock',
    key: 'run',
    conditions: [RUN, number('t_us', TIME_us), number('axis_us', TIME_us)],
    texts: [],
    rows_most: 4_000_000,
  },
  {
    table: 'block',
    key: 'id',
    texts: [],
    rows_most: 2_000_000,
    conditions: [
      // Imported points are of no run.
      `(${RUN} OR run = 0 AND stream = ${STREAM.points})`,
      whole('stream', 1, 4),
      whole('pending', 0, 1),
      number('first_t_us', TIME_us),
      number('last_t_us', TIME_us),
      'last_t_us >= first_t_us',
      whole('count', 0, COUNT_MOST),
      `typeof(data) = 'blob' AND length(data) <= ${BLOCK_BYTES_MOST}`,
    ],
  },
  {
    table: 'summary',
    key: 'block',
    conditions: [`typeof(data) = 'blob' AND length(data) <= ${BLOCK_BYTES_MOST}`],
    texts: [],
    rows_most: 2_000_000,
  },
  {
    table: 'status',
    key: 'id',
    conditions: [RUN, whole('seq', 0, 2 ** 32), number('t_us', TIME_us), text('code', 100), number('detail')],
    texts: ['code'],
    rows_most: 4_000_000,
  },
  {
    table: 'mark',
    key: 'id',
    conditions: [number('axis_us', TIME_us), text('text')],
    texts: ['text'],
    rows_most: 100_000,
  },
  {
    table: 'bad_line',
    key: 'id',
    conditions: [number('wall_ms', DATE_MOST_ms), text('reason'), text('line')],
    texts: ['reason', 'line'],
    rows_most: 10_000,
  },
];

const RULES_2: readonly Rule[] = [
  { table: 'run', key: 'id', conditions: [orNull('limits', text('limits'))], texts: ['limits'], rows_most: 200_000 },
  {
    table: 'calibration',
    key: 'id',
    texts: ['reason'],
    rows_most: 10_000,
    conditions: [
      number('made_ms', DATE_MOST_ms),
      text('reason'),
      ...['shunt_nOhm', 'gain_ppm', 'offset_nV'].map((column) => orNull(column, number(column))),
    ],
  },
];

const BAY_RULES: readonly Rule[] = [
  {
    table: 'bay',
    key: 'id',
    conditions: [number('t_s', TIME_MOST_s), text('code', 100), text('text')],
    texts: ['text'],
    rows_most: 100_000,
  },
  { table: 'bay_state', key: 'id', conditions: [text('state', STATE_BYTES_MOST)], texts: ['state'], rows_most: 1 },
];

/**
 * @param tables names of those that the capture has
 * @throws Error in one sentence naming table and row
 */
export function requirePossibleRows(db: Db, path: string, tables: ReadonlySet<string>): void {
  const rules = [
    ...RULES,
    ...(tables.has('calibration') ? RULES_2 : []),
    ...BAY_RULES.filter(({ table }) => tables.has(table)),
  ];
  for (const rule of rules) requireRows(db, path, rule);
  // Stream by stream: grouped, SQLite would carry every block's bytes along to sort them.
  const inAll = db.prepare('SELECT total(count) AS readings, total(length(data)) AS bytes FROM block WHERE stream = ?');
  for (const [stream, { free, perByte }] of Object.entries(READINGS)) {
    const { readings, bytes } = inAll.get(Number(stream)) as { readings: number; bytes: number };
    if (readings > free + perByte * bytes)
      throw new Error(
        `${path} says that it holds ${readings} readings in ${bytes} bytes, and no capture can; take another copy of it`,
      );
  }
}

function requireRows(db: Db, path: string, { table, key, conditions, texts, rows_most }: Rule): void {
  const bytes = texts.map((column) => `total(octet_length(${column}))`).join(' + ') || '0';
  const wrong = conditions.map((condition) => `(${condition})`).join(' AND ');
  const found = db
    .prepare(
      `SELECT count(*) AS rows, ${bytes} AS bytes, min(CASE WHEN (${wrong}) IS NOT TRUE THEN ${key} END) AS wrong FROM ${table}`,
    )
    .get() as { rows: number; bytes: number; wrong: unknown };
  if (found.wrong !== null)
    throw new Error(
      `${path} is damaged: row ${printable(found.wrong)} of its table ${table} holds what no recorder writes; take another copy of it`,
    );
  if (found.rows > rows_most || found.bytes > TEXTS_BYTES_MOST)
    throw new Error(
      `${path} is too large to be a capture: its table ${table} has ${found.rows} rows and ${found.bytes} bytes of text; take another copy of it`,
    );
}

const printable = (key: unknown): string =>
  typeof key === 'string' ? `'${key.replace(/[^\x20-\x7e]/g, '.').slice(0, 40)}'` : String(key);
