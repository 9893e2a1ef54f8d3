// The library: one analysis for each version of a file, however many ask.
import { appendFileSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Findings } from '../../../host/analysis/findings.ts';
import { Library } from '../../../host/server/library.ts';
import type { Source } from '../../../host/server/source.ts';
import { inventNight, STEADY } from '../../browser/nights.ts';

const { findings } = inventNight({ ...STEADY, hours: 0.1 });
let dir: string;
beforeAll(() => {
  dir = mkdtempSync(join(tmpdir(), 'nightdraw-library-'));
});
afterAll(() => rmSync(dir, { recursive: true, force: true }));

function counting(clock = { ms: 0 }): { library: Library; opened: string[]; closed: string[]; analysed: string[]; running: { now: number; most: number } } {
  const [opened, closed, analysed]: [string[], string[], string[]] = [[], [], []];
  const running = { now: 0, most: 0 };
  const names = new Map<Source, string>();
  const library = new Library({
    dir,
    now_ms: () => clock.ms,
    openSource: (file) => {
      opened.push(file.name);
      const source: Source = {
        info: { start_ms: null, duration_s: 10, samples: 10, job: 'job', marks: [], origin: [] },
        trace: () => { throw new Error('not asked for'); },
        overview: (from_s, to_s) => ({ from_s, to_s, mean_mA: [1], min_mA: [1], max_mA: [1] }),
        close: () => closed.push(file.name),
      };
      names.set(source, file.name);
      return Promise.resolve(source);
    },
    analyse: async (source): Promise<Findings> => {
      running.most = Math.max(running.most, ++running.now);
      await new Promise((resolve) => setTimeout(resolve, 5));
      running.now--;
      analysed.push(names.get(source)!);
      return findings;
    },
  });
  return { library, opened, closed, analysed, running };
}

test('a hundred questions cost one opening and one analysis; a changed file costs another', async () => {
  const path = join(dir, 'a.csv');
  writeFileSync(path, 'one');
  const { library, opened, analysed } = counting();
  await Promise.all(Array.from({ length: 100 }, () => library.findings('a.csv')));
  expect([opened, analysed]).toEqual([['a.csv'], ['a.csv']]);
  appendFileSync(path, ' more');
  await library.findings('a.csv');
  expect(analysed).toEqual(['a.csv', 'a.csv']);
  await library.close();
});

test('many captures are analysed one at a time, and few are kept open', async () => {
  for (let i = 0; i < 20; i++) writeFileSync(join(dir, `many-${i}.csv`), 'x');
  const { library, opened, closed, running } = counting();
  for (;;) {
    const list = await library.list();
    if (list.every((capture) => capture.state === 'ready')) break;
    await new Promise((resolve) => setTimeout(resolve, 10));
  }
  expect(running.most).toBe(1);
  expect(opened.length - closed.length).toBeLessThanOrEqual(6);
  await library.close();
  await new Promise((resolve) => setTimeout(resolve, 10));
  expect(closed.length).toBe(opened.length);
});

test('the capture that somebody waits for is analysed before the rest of the list', async () => {
  for (let i = 0; i < 8; i++) writeFileSync(join(dir, `queue-${i}.csv`), 'x');
  const { library, analysed } = counting();
  await library.list();
  await library.findings('queue-7.csv');
  expect(analysed.indexOf('queue-7.csv')).toBeLessThanOrEqual(1);
  await library.close();
});

test('closing finishes what runs and refuses what waits', async () => {
  for (let i = 0; i < 4; i++) writeFileSync(join(dir, `closing-${i}.csv`), 'x');
  const { library, analysed } = counting();
  const asked = [0, 1, 2, 3].map((i) => library.findings(`closing-${i}.csv`));
  const outcomes = Promise.allSettled(asked);
  await new Promise((resolve) => setTimeout(resolve, 3));
  await library.close();
  const done = analysed.length;
  expect((await outcomes).filter((o) => o.status === 'fulfilled')).toHaveLength(done);
  expect(done).toBeLessThan(4);
});

test('a recording that grows in its write-ahead log is analysed anew, but not at every second', async () => {
  const path = join(dir, 'live.nightdraw');
  writeFileSync(path, 'main');
  const clock = { ms: 0 };
  const { library, analysed } = counting(clock);
  await library.findings('live.nightdraw');
  writeFileSync(`${path}-wal`, 'new readings');
  clock.ms = 4000;
  await library.findings('live.nightdraw');
  expect(analysed).toHaveLength(1);
  clock.ms = 6000;
  await library.findings('live.nightdraw');
  expect(analysed).toHaveLength(2);
  await library.close();
});

test('a file that could not be opened is tried again at the next question', async () => {
  writeFileSync(join(dir, 'busy.csv'), 'x');
  let tries = 0;
  const library = new Library({
    dir,
    now_ms: () => 0,
    openSource: (file) => {
      tries++;
      return Promise.reject(new Error(`${file.path} is busy`));
    },
    analyse: () => Promise.resolve(findings),
  });
  for (let i = 0; i < 2; i++) await expect(library.findings('busy.csv')).rejects.toThrow(/^busy\.csv is busy$/);
  expect(tries).toBe(2);
  await library.close();
});
