// The index of a folder of captures: true to the folder, kept between servers, thrown away
// where it is no sound index, and made again from the captures.
import {
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  renameSync,
  rmSync,
  truncateSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { Database } from '../../../host/capture/format/sqlite.ts';
import type { CaptureSummary } from '../../../host/contract/api.ts';
import type { VerdictCode } from '../../../host/contract/findings.ts';
import { findFile, listFolder } from '../../../host/server/folder.ts';
import { forgetInIndex, INDEX_NAME } from '../../../host/server/shelf/index-file.ts';
import { Shelf } from '../../../host/server/shelf/shelf.ts';
import { likePattern, searchedFor, wordsOf } from '../../../host/server/shelf/words.ts';

const BASIS = 'version one';
let dir: string;
let clock = 0;
const open: Shelf[] = [];
beforeEach(() => {
  dir = mkdtempSync(join(tmpdir(), 'nightdraw-shelf-'));
});
afterEach(async () => {
  for (const shelf of open.splice(0)) await shelf.close();
  rmSync(dir, { recursive: true, force: true });
});

function shelfOf(basis = BASIS): Shelf {
  const shelf = new Shelf(dir, basis, () => (clock += 0.01));
  open.push(shelf);
  return shelf;
}

const put = (name: string, text = 'x') => writeFileSync(join(dir, name), text);

/** As the library tells what it found. */
async function learn(shelf: Shelf, name: string, start: string | null, job: string, last = false): Promise<void> {
  const file = await findFile(dir, name);
  const known = { name, bytes: file.bytes, written_ms: file.written_ms };
  const summary: CaptureSummary = last
    ? { state: 'unreadable', ...known, reason: `${name} is cut off` }
    : {
        state: 'ready',
        ...known,
        start,
        duration_s: 10,
        job,
        verdict: { code: 'wakes', sentence: 'It wakes.' },
        work: false,
      };
  shelf.learn(file, file.version, {
    summary: JSON.stringify(summary),
    began_ms: start === null ? null : Date.parse(start),
    last,
    words: wordsOf(summary),
    night: null,
  });
}

const names = async (shelf: Shelf, search = '', from = 0, count = 100) =>
  (await shelf.page(search, from, count)).rows.map(({ file }) => file.name);

test('the newest night stands first, what cannot be read last, in pages', async () => {
  for (const name of ['a.nightdraw', 'b.nightdraw', 'c.csv', 'bad.csv', 'notes.txt', '.hidden.csv']) put(name);
  for (const [i, name] of ['a.nightdraw', 'b.nightdraw', 'c.csv', 'bad.csv'].entries())
    utimesSync(join(dir, name), 1000 + i, 1000 + i);
  const shelf = shelfOf();
  // Nothing is known yet: by when they were written.
  expect(await names(shelf)).toEqual(['bad.csv', 'c.csv', 'b.nightdraw', 'a.nightdraw']);
  await learn(shelf, 'a.nightdraw', '2031-05-04T21:00:00Z', 'no start');
  await learn(shelf, 'b.nightdraw', '2031-05-02T21:00:00Z', 'no start');
  await learn(shelf, 'c.csv', '2031-05-03T21:00:00Z', '');
  await learn(shelf, 'bad.csv', null, '', true);
  expect(await names(shelf)).toEqual(['a.nightdraw', 'c.csv', 'b.nightdraw', 'bad.csv']);
  expect(await shelf.page('', 1, 2)).toMatchObject({
    found: 4,
    total: 4,
    rows: [{ file: { name: 'c.csv' } }, { file: { name: 'b.nightdraw' } }],
  });
  expect(await names(shelf, '', 4, 2)).toEqual([]);
});

test('a search finds every word in name, job, verdict, reason and date, and no sign has a meaning of its own', async () => {
  for (const name of ['a.nightdraw', 'b.nightdraw', 'bad.csv', '100%_.csv']) put(name);
  const shelf = shelfOf();
  await shelf.page('', 0, 1);
  await learn(shelf, 'a.nightdraw', '2031-05-04T12:00:00', 'Dead after ÜBER-long holiday');
  await learn(shelf, 'b.nightdraw', '2031-06-04T12:00:00', 'radio');
  await learn(shelf, 'bad.csv', null, '', true);
  await learn(shelf, '100%_.csv', null, '');
  expect(await names(shelf, 'HOLIDAY dead')).toEqual(['a.nightdraw']);
  expect(await names(shelf, 'über')).toEqual(['a.nightdraw']);
  expect(await names(shelf, 'holiday radio')).toEqual([]);
  expect(await names(shelf, '2031-06-04')).toEqual(['b.nightdraw']);
  expect(await names(shelf, '4 may 2031')).toEqual(['a.nightdraw']);
  for (const date of ['04.05.2031', '4.5.2031', '04/05/2031', '5/4/2031', 'sun may', '2031-05', 'sunday 12:00'])
    expect(await names(shelf, date), date).toEqual(['a.nightdraw']);
  expect(await names(shelf, '5.6.2031')).toEqual([]);
  expect(await names(shelf, 'too many')).toEqual(['b.nightdraw', 'a.nightdraw', '100%_.csv']);
  expect(await names(shelf, 'cut')).toEqual(['bad.csv']);
  expect(await names(shelf, '\\')).toEqual([]);
  for (const sign of ['%', '_', '%_']) expect(await names(shelf, sign)).toEqual(['100%_.csv']);
  expect(await names(shelf, "' OR 1=1 --")).toEqual([]);
  expect([searchedFor('  A  b '), likePattern('a%b')]).toEqual([['a', 'b'], '%a\\%b%']);
});

test('a verdict is found by its code and by what people call it, and by no other', () => {
  const said: Record<VerdictCode, string[]> = {
    within: ['within', 'in order', 'within the allowance'],
    over: ['over', 'too high', 'over the allowance'],
    wakes: ['wakes', 'woken', 'wake-ups', 'too many'],
    awake: ['awake', 'never asleep'],
    short: ['short', 'too short to tell'],
  };
  const known = { name: 'n.csv', bytes: 1, written_ms: 0, start: null, duration_s: 1, job: '' };
  const found = (code: VerdictCode, search: string) => {
    const words = wordsOf({ state: 'ready', ...known, verdict: { code, sentence: '' }, work: false });
    return searchedFor(search).every((word) => words.includes(word));
  };
  for (const [code, searches] of Object.entries(said) as [VerdictCode, string[]][])
    for (const search of searches)
      expect(
        (Object.keys(said) as VerdictCode[]).filter((one) => found(one, search)),
        search,
      ).toEqual([code]);
});

test('what was learned is there for the next server; a changed, renamed or removed file is not taken for it', async () => {
  for (const name of ['a.nightdraw', 'b.nightdraw', 'c.nightdraw']) put(name);
  const first = shelfOf();
  await first.page('', 0, 1);
  for (const name of ['a.nightdraw', 'b.nightdraw', 'c.nightdraw'])
    await learn(first, name, '2031-05-04T21:00:00Z', `job of ${name}`);
  put('a.nightdraw', 'longer');
  renameSync(join(dir, 'b.nightdraw'), join(dir, 'd.nightdraw'));
  const second = shelfOf();
  const { rows } = await second.page('', 0, 10);
  expect(rows.map(({ file, summary }) => [file.name, summary === null]).sort()).toEqual([
    ['a.nightdraw', true],
    ['c.nightdraw', false],
    ['d.nightdraw', true],
  ]);
  expect([
    second.has('b.nightdraw'),
    second.stale(new Set()),
    second.stale(new Set(['a.nightdraw'])),
    second.stale(new Set(['a.nightdraw', 'd.nightdraw'])),
  ]).toEqual([false, 'a.nightdraw', 'd.nightdraw', null]);
  // The first one still runs, and comes to the same.
  expect((await first.page('', 0, 10)).total).toBe(3);
  // Another program, or other settings of the workshop: all anew.
  const third = shelfOf('version two');
  expect((await third.page('', 0, 10)).rows.map(({ summary }) => summary)).toEqual([null, null, null]);
});

test('an index that is damaged, cut, of another version or something else is thrown away, and the captures stay', async () => {
  put('a.nightdraw', 'capture');
  const path = join(dir, INDEX_NAME);
  const make = async () => {
    const shelf = new Shelf(dir, BASIS, () => (clock += 0.01));
    await shelf.page('', 0, 1);
    await learn(shelf, 'a.nightdraw', '2031-05-04T21:00:00Z', 'x'.repeat(40));
    await shelf.close();
  };
  const spoil: [string, () => void][] = [
    ['text', () => writeFileSync(path, 'not a database at all, but long enough to look like something '.repeat(20))],
    ['cut', () => truncateSync(path, 5000)],
    [
      'flipped',
      () => {
        const bytes = readFileSync(path);
        bytes.fill(0xa5, 4096, 4096 + 400);
        writeFileSync(path, bytes);
      },
    ],
    [
      'version',
      () => {
        const db = new Database(path);
        db.pragma('user_version = 99');
        db.close();
      },
    ],
    [
      'foreign',
      () => {
        rmSync(path);
        const db = new Database(path);
        db.exec('CREATE TABLE other (x)');
        db.close();
      },
    ],
  ];
  for (const [what, work] of spoil) {
    await make();
    work();
    const shelf = new Shelf(dir, BASIS, () => (clock += 0.01));
    const { rows, total } = await shelf.page('', 0, 10);
    expect([what, total, rows[0]!.summary]).toEqual([what, 1, null]);
    await learn(shelf, 'a.nightdraw', '2031-05-04T21:00:00Z', 'again');
    expect(await names(shelf, 'again')).toEqual(['a.nightdraw']);
    await shelf.close();
    expect(readFileSync(join(dir, 'a.nightdraw'), 'utf8')).toBe('capture');
  }
});

test('what is taken out of a capture is taken out of the index, from its bytes too, while a server has it open', async () => {
  for (const name of ['a.nightdraw', 'b.nightdraw']) put(name);
  const shelf = shelfOf();
  await shelf.page('', 0, 10);
  await learn(shelf, 'a.nightdraw', '2031-05-04T21:00:00Z', 'Xyzzy the customer');
  await learn(shelf, 'b.nightdraw', '2031-05-05T21:00:00Z', 'order 12');
  const bytes = () =>
    ['', '-wal']
      .map((end) => join(dir, INDEX_NAME + end))
      .filter((path) => existsSync(path))
      .map((path) => readFileSync(path, 'latin1').toLowerCase())
      .join('');
  expect(bytes()).toContain('xyzzy');
  forgetInIndex(dir, 'a.nightdraw');
  expect(bytes()).not.toContain('xyzzy');
  expect(bytes()).toContain('order 12');
  expect(await names(shelf, 'xyzzy')).toEqual([]);
  expect(shelf.stale(new Set())).toBe('a.nightdraw');
  await learn(shelf, 'a.nightdraw', '2031-05-04T21:00:00Z', '');
  expect(await names(shelf)).toEqual(['b.nightdraw', 'a.nightdraw']);
});

test('a folder without an index has nothing to take out; one that cannot be cleared is named', () => {
  forgetInIndex(dir, 'a.nightdraw');
  expect(existsSync(join(dir, INDEX_NAME))).toBe(false);
  put(INDEX_NAME, 'no index at all, but a text that is long enough to look like a file');
  expect(() => forgetInIndex(dir, 'a.nightdraw')).toThrow(/may still name what was taken out .*; delete it/);
});

test('an index that another server is writing is left to it', async () => {
  put('a.nightdraw');
  const first = shelfOf();
  await first.page('', 0, 1);
  await learn(first, 'a.nightdraw', '2031-05-04T21:00:00Z', 'kept');
  const other = new Database(join(dir, INDEX_NAME));
  other.exec('BEGIN EXCLUSIVE');
  const second = shelfOf('another basis');
  expect(await names(second)).toEqual(['a.nightdraw']);
  await learn(second, 'a.nightdraw', '2031-05-04T21:00:00Z', 'its own');
  other.exec('ROLLBACK');
  other.close();
  expect([await names(first, 'kept'), await names(second, 'own')]).toEqual([['a.nightdraw'], ['a.nightdraw']]);
});

test('which captures may be unfinished is kept for each version', async () => {
  put('a.nightdraw');
  put('b.nightdraw');
  const shelf = shelfOf();
  expect(await shelf.mayBeUnfinished()).toEqual(['a.nightdraw', 'b.nightdraw']);
  const version = async (name: string) => (await findFile(dir, name)).version;
  shelf.learnUnfinished('a.nightdraw', await version('a.nightdraw'), false);
  shelf.learnUnfinished('b.nightdraw', await version('b.nightdraw'), true);
  expect(await shelf.mayBeUnfinished()).toEqual(['b.nightdraw']);
  put('a.nightdraw', 'goes on');
  expect(await shelf.mayBeUnfinished()).toEqual(['a.nightdraw', 'b.nightdraw']);
});

test('a folder that the index cannot be written into is listed all the same', async () => {
  put('a.nightdraw');
  // A folder in its place stands for every reason why it cannot be made.
  mkdirSync(join(dir, INDEX_NAME));
  const shelf = shelfOf();
  expect(await names(shelf)).toEqual(['a.nightdraw']);
  expect(existsSync(join(dir, INDEX_NAME))).toBe(true);
});

test('a listing and a single question see the same version of a file, its write-ahead log included', async () => {
  put('a.nightdraw');
  put('a.nightdraw-wal', 'new readings');
  copyFileSync(join(dir, 'a.nightdraw'), join(dir, 'b.nightdraw'));
  for (const file of await listFolder(dir)) expect(file).toEqual(await findFile(dir, file.name));
});
