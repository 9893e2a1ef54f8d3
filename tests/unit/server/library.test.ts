// The library: one analysis for each version of a file, however many ask.
import { appendFileSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { setImmediate as othersTurn } from 'node:timers/promises';
import { basename, join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Findings } from '../../../host/contract/findings.ts';
import { Library } from '../../../host/server/library.ts';
import type { Readers } from '../../../host/server/reading/desk.ts';
import { Json } from '../../../host/server/json.ts';
import { Shelf } from '../../../host/server/shelf/shelf.ts';
import { inventNight, STEADY } from '../../browser/nights.ts';

const { findings } = inventNight({ ...STEADY, hours: 0.1 });
let dir: string;
beforeAll(() => {
  dir = mkdtempSync(join(tmpdir(), 'nightdraw-library-'));
});
afterAll(() => rmSync(dir, { recursive: true, force: true }));

/** Of nobody before: each test reads anew. */
let basis = 0;
const shelfOf = (clock: { ms: number }) => new Shelf(dir, String(basis++), () => clock.ms);

const none = () => Promise.reject(new Error('not asked for'));

/** Readers that count what they are asked; those of a test's own come in `parts`. */
function counting(
  clock = { ms: 0 },
  parts: Partial<Readers> = {},
): { library: Library; analysed: string[]; told: string[]; running: { now: number; most: number } } {
  const [analysed, told]: [string[], string[]] = [[], []];
  const running = { now: 0, most: 0 };
  const readers: Readers = {
    info: ({ path }) => {
      told.push(basename(path));
      return Promise.resolve({
        start_ms: null,
        duration_s: 10,
        samples: 10,
        job: 'job',
        marks: [],
        bay: null,
        origin: [],
      });
    },
    overview: (_file, from_s, to_s) =>
      Promise.resolve(Json.of({ from_s, to_s, mean_mA: [1], min_mA: [1], max_mA: [1] })),
    findings: async ({ path }): Promise<Findings> => {
      running.most = Math.max(running.most, ++running.now);
      // Others have their turn before it ends.
      for (let turn = 0; turn < 5; turn++) await othersTurn();
      running.now--;
      analysed.push(basename(path));
      return findings;
    },
    details: none,
    unfinished: none,
    amend: () => Promise.resolve(true),
    close: () => Promise.resolve(),
    ...parts,
  };
  return {
    library: new Library({ dir, shelf: shelfOf(clock), now_ms: () => clock.ms, readers, workshop: {}, carKey: null }),
    analysed,
    told,
    running,
  };
}

/** Analyses are begun, and none is done before `goOn`. */
function holding(): { library: Library; analysed: string[]; goOn: () => void } {
  let goOn = () => undefined as void;
  const held = new Promise<void>((resolve) => (goOn = resolve));
  const analysed: string[] = [];
  const { library } = counting(
    { ms: 0 },
    {
      findings: async ({ path }) => {
        analysed.push(basename(path));
        await held;
        return findings;
      },
    },
  );
  return { library, analysed, goOn };
}

const ask = (library: Library, name: string) => library.findings(name, {});

test('a hundred questions cost one opening and one analysis; a changed file costs another', async () => {
  const path = join(dir, 'a.csv');
  writeFileSync(path, 'one');
  const { library, told, analysed } = counting();
  await Promise.all(Array.from({ length: 100 }, () => ask(library, 'a.csv')));
  await Promise.all(Array.from({ length: 100 }, () => library.info('a.csv')));
  expect([told, analysed]).toEqual([['a.csv'], ['a.csv']]);
  appendFileSync(path, ' more');
  await ask(library, 'a.csv');
  expect(analysed).toEqual(['a.csv', 'a.csv']);
  await library.close();
});

test('many captures are analysed one at a time', async () => {
  for (let i = 0; i < 20; i++) writeFileSync(join(dir, `many-${i}.csv`), 'x');
  const { library, running } = counting();
  for (;;) {
    const { captures } = await library.list();
    if (captures.every((capture) => capture.state === 'ready')) break;
    await othersTurn();
  }
  expect(running.most).toBe(1);
  await library.close();
});

test('the capture that somebody waits for is analysed before the rest of the list', async () => {
  for (let i = 0; i < 8; i++) writeFileSync(join(dir, `queue-${i}.csv`), 'x');
  const { library, analysed, goOn } = holding();
  await library.list();
  const asked = ask(library, 'queue-7.csv');
  while (analysed.length === 0) await othersTurn();
  // A question that looks for the file as that one does, and began after it: it waits in the line by then.
  for (let i = 0; i < 3; i++) await library.info('queue-7.csv');
  goOn();
  await asked;
  expect(analysed.indexOf('queue-7.csv')).toBeLessThanOrEqual(1);
  await library.close();
});

test('an analysis that nobody waits for any more is not begun; one that somebody else waits for is', async () => {
  for (const name of ['runs', 'left', 'shared']) writeFileSync(join(dir, `gone-${name}.csv`), 'x');
  const { library, analysed, goOn } = holding();
  const leaving = new AbortController();
  const asker = { gone: leaving.signal, lane: {}, takes: () => true };
  const runs = ask(library, 'gone-runs.csv');
  while (analysed.length === 0) await othersTurn();
  const left = library.findings('gone-left.csv', {}, asker),
    shared = library.findings('gone-shared.csv', {}, asker);
  const both = Promise.allSettled([left, shared]);
  const other = ask(library, 'gone-shared.csv');
  // All three have come to the line by then.
  for (let i = 0; i < 3; i++) await library.info('gone-left.csv');
  leaving.abort();
  goOn();
  await Promise.all([runs, other]);
  expect((await both).map(({ status }) => status)).toEqual(['rejected', 'fulfilled']);
  expect(analysed.sort()).toEqual(['gone-runs.csv', 'gone-shared.csv']);
  await library.close();
});

test('closing finishes what runs and refuses what waits', async () => {
  for (let i = 0; i < 4; i++) writeFileSync(join(dir, `closing-${i}.csv`), 'x');
  let begun = 0;
  let goOn = () => undefined as void;
  const held = new Promise<void>((resolve) => (goOn = resolve));
  const { library } = counting({ ms: 0 }, { findings: async () => (begun++, await held, findings) });
  const asked = [0, 1, 2, 3].map((i) => ask(library, `closing-${i}.csv`));
  const outcomes = Promise.allSettled(asked);
  while (begun === 0) await othersTurn();
  const closed = library.close();
  goOn();
  await closed;
  // Whose file was found first is the disk's affair.
  expect((await outcomes).map((o) => o.status).sort()).toEqual(['fulfilled', 'rejected', 'rejected', 'rejected']);
  expect(begun).toBe(1);
});

test('a recording that grows in its write-ahead log is analysed anew, but not at every second', async () => {
  const path = join(dir, 'live.nightdraw');
  writeFileSync(path, 'main');
  const clock = { ms: 0 };
  const { library, analysed } = counting(clock);
  await ask(library, 'live.nightdraw');
  writeFileSync(`${path}-wal`, 'new readings');
  clock.ms = 4000;
  await ask(library, 'live.nightdraw');
  expect(analysed).toHaveLength(1);
  clock.ms = 6000;
  await ask(library, 'live.nightdraw');
  expect(analysed).toHaveLength(2);
  await library.close();
});

test('a file that could not be opened is tried again at the next question', async () => {
  writeFileSync(join(dir, 'busy.csv'), 'x');
  let tries = 0;
  const { library } = counting(
    { ms: 0 },
    {
      findings: ({ path }) => {
        tries++;
        return Promise.reject(new Error(`${path} is busy`));
      },
    },
  );
  for (let i = 0; i < 2; i++) await expect(ask(library, 'busy.csv')).rejects.toThrow(/^busy\.csv is busy$/);
  expect(tries).toBe(2);
  await library.close();
});

test('other options are another analysis, the same ones the same', async () => {
  writeFileSync(join(dir, 'options.csv'), 'x');
  const { library, analysed } = counting();
  await ask(library, 'options.csv');
  await library.findings('options.csv', { allowance_mA: 25 });
  await library.findings('options.csv', { allowance_mA: 25 });
  expect(analysed).toHaveLength(2);
  await library.close();
});

test('a mark costs no new analysis', async () => {
  const path = join(dir, 'marked.nightdraw');
  writeFileSync(path, 'x');
  const { library, analysed, told } = counting(
    { ms: 0 },
    { amend: () => Promise.resolve(appendFileSync(path, ' a mark') === undefined) },
  );
  await ask(library, 'marked.nightdraw');
  await library.info('marked.nightdraw');
  await library.amend('marked.nightdraw', { kind: 'mark', t_s: 1, text: 'door' });
  await ask(library, 'marked.nightdraw');
  await library.info('marked.nightdraw');
  expect([analysed.length, told.length]).toEqual([1, 2]);
  await library.close();
});

test('what is asked while a mark is set is not kept beyond it', async () => {
  const path = join(dir, 'marking.nightdraw');
  writeFileSync(path, 'x');
  writeFileSync(`${path}-wal`, 'x');
  let marks: { t_s: number; text: string }[] = [];
  const clock = { ms: 0 };
  const { library } = counting(clock, {
    info: () =>
      Promise.resolve({ start_ms: null, duration_s: 10, samples: 10, job: 'job', marks, bay: null, origin: [] }),
    amend: async () => {
      // Readings come, and another page asks, before the mark is in the file.
      appendFileSync(`${path}-wal`, 'readings');
      clock.ms = 6000;
      expect((await library.info('marking.nightdraw')).marks).toEqual([]);
      marks = [{ t_s: 1, text: 'door' }];
      appendFileSync(`${path}-wal`, 'a mark');
      return true;
    },
  });
  await library.info('marking.nightdraw');
  await library.amend('marking.nightdraw', { kind: 'mark', t_s: 1, text: 'door' });
  expect((await library.info('marking.nightdraw')).marks).toEqual(marks);
  await library.close();
});
