// A capture that somebody sent: what is no capture of ours is refused in one sentence before
// anything of it runs or takes memory, whoever opens it, and stays as it was.
import { execFileSync } from 'node:child_process';
import { copyFileSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { deflateRawSync } from 'node:zlib';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { addCalibration, addMark, forgetPrivate } from '../../../host/capture/store/amend.ts';
import { BayLog } from '../../../host/capture/store/bay-log.ts';
import { blockCrc, unpack } from '../../../host/capture/format/blocks.ts';
import { openTrace } from '../../../host/night/open.ts';
import { decodeRaw, newRawColumns } from '../../../host/capture/format/raw-blocks.ts';
import { openCapture } from '../../../host/capture/read/reader.ts';
import { readResumePoint } from '../../../host/capture/store/resume.ts';
import { Database } from '../../../host/capture/format/sqlite.ts';

const OLD = new URL('old/format-1.nightdraw', import.meta.url).pathname;
const NEW = new URL('../../../captures/steady-over.nightdraw', import.meta.url).pathname;

let folder: string;
let path: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-stranger-'));
  path = join(folder, 'sent.nightdraw');
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

/** A copy of an example with something done to it. */
function tampered(sql: string, from = NEW): void {
  copyFileSync(from, path);
  const db = new Database(path);
  db.pragma('synchronous = OFF');
  db.exec(sql);
  db.close();
}

const OPENERS: [string, () => unknown][] = [
  ['the trace', () => openTrace(path)],
  ['the reader', () => openCapture(path)],
  ['a mark', () => addMark(path, 1, 'door')],
  ['forget', () => forgetPrivate(path)],
  ['resume', () => readResumePoint(path)],
  ['the bay', () => new BayLog(path)],
];

async function expectRefused(words: RegExp): Promise<void> {
  const before = readFileSync(path);
  for (const [who, open] of OPENERS) {
    const error = await Promise.resolve()
      .then(open)
      .then(
        () => null,
        (e: Error) => e,
      );
    expect(error?.message, who).toMatch(words);
    expect(error?.message, who).not.toContain('\n');
  }
  expect(readFileSync(path).equals(before)).toBe(true);
}

describe('a schema that is not ours', () => {
  test.each([
    [
      'a trigger that takes readings away',
      'CREATE TRIGGER t AFTER UPDATE ON info BEGIN DELETE FROM block; END',
      /holds 't', which may be a program in disguise/,
    ],
    [
      'a view without an end in place of a table',
      "DROP TABLE mark; CREATE VIEW mark AS WITH RECURSIVE n(id) AS (SELECT 1 UNION ALL SELECT id + 1 FROM n) SELECT id, 0.0 AS axis_us, 'x' AS text FROM n",
      /holds 'mark'/,
    ],
    ['one more table', 'CREATE TABLE extra (x)', /holds 'extra'/],
    ['one more column', 'ALTER TABLE mark ADD COLUMN more', /holds 'mark'/],
    ['an index', 'CREATE INDEX i ON block (stream)', /holds 'i'/],
    ['a table that is missing', 'DROP TABLE clock', /table 'clock' is missing/],
    ['a bay that is none', 'CREATE TABLE bay (id INTEGER PRIMARY KEY, x)', /holds 'bay'/],
    ['a name with control characters', 'CREATE TABLE "a\u001b[31m\nb" (x)', /holds 'a\.\[31m\.b'/],
  ])('%s', async (_, sql, words) => {
    tampered(sql);
    await expectRefused(words);
  });

  test('of an older format with the newer tables', async () => {
    tampered('ALTER TABLE run ADD COLUMN limits TEXT', OLD);
    await expectRefused(/holds 'run'/);
  });

  test('two hundred tables are not read', async () => {
    tampered(Array.from({ length: 200 }, (_, i) => `CREATE TABLE x${i} (y);`).join(''));
    await expectRefused(/holds \d+ tables and the like/);
  });
});

describe('ours', () => {
  test.each([
    ['of today', NEW],
    ['of format 1', OLD],
  ])('%s is opened, also with work in the bay', async (_, from) => {
    copyFileSync(from, path);
    expect((await openTrace(path)).trace.mean_mA.length).toBeGreaterThan(0);
    new BayLog(path).close();
    openCapture(path).close();
  });
});

describe('files beside it that are none', () => {
  test.each(['-wal', '-shm', '-journal'])('a pipe as %s is not waited for', async (ending) => {
    copyFileSync(NEW, path);
    execFileSync('mkfifo', [path + ending]);
    await expectRefused(new RegExp(`${ending} is no ordinary file; take it away`));
  });

  test('a pipe in its place', () => {
    execFileSync('mkfifo', [path]);
    expect(() => openCapture(path)).toThrow(/is no ordinary file/);
    expect(readdirSync(folder)).toEqual(['sent.nightdraw']);
  });
});

describe('rows that no recorder writes', () => {
  const first = (table: string, set: string) => `UPDATE ${table} SET ${set} WHERE id = (SELECT min(id) FROM ${table})`;
  test.each([
    ...['2147483648', '9007199254740993', '-1', '1.5', "'many'", '1048577'].map((count) => [
      'block',
      `a count of ${count}`,
      first('block', `count = ${count}`),
    ]),
    ...["'soon'", '9e999', '-9e999', '1e300'].map((t_us) => [
      'block',
      `a time of ${t_us}`,
      first('block', `last_t_us = ${t_us}`),
    ]),
    ['block', 'an end before its begin', first('block', 'last_t_us = first_t_us - 1')],
    ['block', 'a text for bytes', first('block', "data = 'x'")],
    ['block', 'a stream that there is not', first('block', 'stream = 7')],
    ['block', 'nine million bytes', first('block', 'data = zeroblob(9000000)')],
    [
      'summary',
      'a summary of nine million bytes',
      'UPDATE summary SET data = zeroblob(9000000) WHERE block = (SELECT min(block) FROM summary)',
    ],
    ['run', 'a begin without an end', first('run', 'began_ms = 9e999')],
    ['run', 'a begin in words', first('run', "began_ms = 'monday'")],
    ['run', 'a hello of a million letters', first('run', "hello = replace(hex(zeroblob(500000)), '00', 'xx')")],
    ['clock', 'a clock that runs to infinity', 'UPDATE clock SET axis_us = 9e999'],
    [
      'info',
      'a job of thirty million letters',
      "UPDATE info SET value = '\"' || replace(hex(zeroblob(15000000)), '00', 'xx') || '\"' WHERE key = 'job'",
    ],
    ['mark', 'a mark at no time', "INSERT INTO mark (axis_us, text) VALUES ('noon', 'x')"],
    ['mark', 'a mark of bytes', "INSERT INTO mark (axis_us, text) VALUES (0, x'00ff')"],
    [
      'bad_line',
      'a line of a million letters',
      "INSERT INTO bad_line (wall_ms, reason, line) VALUES (0, 'x', hex(zeroblob(500000)))",
    ],
    [
      'status',
      'a status without an end',
      "INSERT INTO status (run, seq, t_us, code, detail) VALUES (1, 0, 9e999, 'x', 0)",
    ],
  ])('%s: %s', async (table, _, sql) => {
    tampered(sql);
    await expectRefused(
      new RegExp(`is damaged: row \\S+ of its table ${table} holds what no recorder writes; take another copy of it$`),
    );
  });

  test('calibration: a shunt without an end', async () => {
    copyFileSync(NEW, path);
    addCalibration(path, { made_ms: 0, reason: 'meter', shunt_nOhm: 5_000_000, gain_ppm: null, offset_nV: null });
    const db = new Database(path);
    db.exec('UPDATE calibration SET shunt_nOhm = 9e999');
    db.close();
    await expectRefused(/row 1 of its table calibration holds what no recorder writes/);
  });

  test('a thousand blocks of a million readings in no bytes', async () => {
    tampered(`WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 1000)
      INSERT INTO block (stream, run, pending, first_t_us, last_t_us, count, crc32, data) SELECT 1, 1, 0, i, i, 1048576, 0, x'00' FROM n`);
    await expectRefused(/says that it holds \d+ readings in \d+ bytes, and no capture can/);
  });

  test('more runs, more marks and more text than anybody reads', async () => {
    const many = (n: number, insert: string) =>
      `WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < ${n}) ${insert} FROM n`;
    tampered(many(100_001, "INSERT INTO mark (axis_us, text) SELECT i, ''"));
    await expectRefused(/is too large to be a capture: its table mark has 100001 rows/);
    tampered(many(1100, 'INSERT INTO mark (axis_us, text) SELECT i, substr(hex(zeroblob(30720)), 1)'));
    await expectRefused(/is too large to be a capture: its table mark has \d+ rows and \d+ bytes of text/);
  });

  test.each([
    ['created_ms', '1e300'],
    ['created_ms', '-1e17'],
    ['bad_line_count', '-3'],
    ['bad_line_count', '1.5'],
    ['axis_ms', '"x"'],
    ['job', '7'],
    ['plate', '7'],
    ['origin', '[1]'],
    ['battery', '{"capacity_Ah":-1}'],
    ['car', '{"deadAfter_days":1e300}'],
  ])('what it says of itself: %s of %s', (key, value) => {
    tampered(`INSERT OR REPLACE INTO info (key, value) VALUES ('${key}', '${value}')`);
    expect(() => {
      const capture = openCapture(path);
      try {
        capture.info();
        capture.personal();
      } finally {
        capture.close();
      }
    }).toThrow(new RegExp(`its table info lacks a proper '${key}'`));
  });

  test.each([
    ['shunt_nOhm', 0],
    ['shunt_nOhm', 1e300],
    ['speed', -1],
    ['window_us', 0],
    ['id', 1.5],
    ['gain_ppm', -2e6],
  ])('a hello whose %s is %d', (key, value) => {
    tampered(`UPDATE run SET hello = json_set(hello, '$.${key}', ${value})`);
    expect(() => openCapture(path).info()).toThrow(new RegExp(`its table run lacks a proper '${key}'`));
  });

  test('a summary that is not of its block is not believed', () => {
    copyFileSync(NEW, path);
    const whole = openCapture(path);
    const { duration_s } = whole.info();
    const before = whole.overview(0, duration_s, 50);
    whole.close();
    tampered('UPDATE summary SET data = substr(data, 1, length(data) - 7)');
    const cut = openCapture(path);
    const after = cut.overview(0, duration_s, 50);
    cut.close();
    expect([...after.max].map((mA) => mA.toFixed(3))).toEqual([...before.max].map((mA) => mA.toFixed(3)));
  });
});

describe('bytes that are no readings', () => {
  test('none at all', () =>
    expect(() => unpack(new Uint8Array(), blockCrc(new Uint8Array()))).toThrow('it holds no byte'));

  test('raw lines without a conversion, a million million of them', () => {
    // Packing, one run of 2^40 lines of no conversion each, no jump.
    const data = Uint8Array.of(0, 1, 0x80, 0x80, 0x80, 0x80, 0x80, 0x20, 0, 0, 0, 0, 0, 0, 0, 0);
    expect(() => decodeRaw(data, blockCrc(data), 0, newRawColumns(0))).toThrow(
      'a block holds more conversions than its row tells',
    );
  });

  test('a block that unpacks to a hundred times its like', async () => {
    copyFileSync(NEW, path);
    const db = new Database(path);
    const { id } = db.prepare('SELECT id FROM block WHERE stream = 1 ORDER BY id LIMIT 1').get() as { id: number };
    const packed = (db.prepare('SELECT data FROM block WHERE id = ?').pluck().get(id) as Buffer)[0]!;
    const bomb = Buffer.concat([Uint8Array.of(packed), deflateRawSync(Buffer.alloc(300 << 20))]);
    db.prepare('UPDATE block SET data = ?, crc32 = ? WHERE id = ?').run(bomb, blockCrc(bomb), id);
    db.close();
    await expect(openTrace(path)).rejects.toThrow(/is damaged in block \d+: .*larger than 33554432 bytes/);
  });
});
