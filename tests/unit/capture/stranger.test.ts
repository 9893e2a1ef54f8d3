// A capture that somebody sent: what is no capture of ours is refused in one sentence before
// anything of it runs or takes memory, whoever opens it, and stays as it was.
import { execFileSync } from 'node:child_process';
import { copyFileSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { deflateRawSync } from 'node:zlib';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { addMark, forgetPrivate } from '../../../host/capture/amend.ts';
import { BayLog } from '../../../host/capture/bay-log.ts';
import { blockCrc } from '../../../host/capture/blocks.ts';
import { openTrace } from '../../../host/capture/open.ts';
import { openCapture } from '../../../host/capture/reader.ts';
import { readResumePoint } from '../../../host/capture/resume.ts';
import { Database } from '../../../host/capture/sqlite.ts';

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
    const error = await Promise.resolve().then(open).then(() => null, (e: Error) => e);
    expect(error?.message, who).toMatch(words);
    expect(error?.message, who).not.toContain('\n');
  }
  expect(readFileSync(path).equals(before)).toBe(true);
}

describe('a schema that is not ours', () => {
  test.each([
    ['a trigger that takes readings away', "CREATE TRIGGER t AFTER UPDATE ON info BEGIN DELETE FROM block; END", /holds 't', which may be a program in disguise/],
    ['a view without an end in place of a table', 'DROP TABLE mark; CREATE VIEW mark AS WITH RECURSIVE n(id) AS (SELECT 1 UNION ALL SELECT id + 1 FROM n) SELECT id, 0.0 AS axis_us, \'x\' AS text FROM n', /holds 'mark'/],
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
  test.each([['of today', NEW], ['of format 1', OLD]])('%s is opened, also with work in the bay', async (_, from) => {
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

describe('numbers that no block can mean', () => {
  test.each(['2147483648', '9007199254740993', '-1', '1.5', "'many'", '1048577'])('a count of %s', async (count) => {
    tampered(`UPDATE block SET count = ${count} WHERE id = (SELECT min(id) FROM block)`);
    await expect(openTrace(path)).rejects.toThrow(/block \d+ says that it holds .* readings .* no block can/);
  });

  test.each(["'soon'", '9e999'])('a time of %s', async (t_us) => {
    tampered(`UPDATE block SET last_t_us = ${t_us} WHERE id = (SELECT min(id) FROM block)`);
    await expect(openTrace(path)).rejects.toThrow(/block \d+ says/);
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
