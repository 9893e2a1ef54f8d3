// Files are read in threads of their own: a long analysis holds up neither the server
// nor a picture, and a thread that died is replaced.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { inThreads } from '../../../host/server/reading/crew.ts';
import { Desk } from '../../../host/server/reading/desk.ts';
import type { Source } from '../../../host/server/reading/source.ts';

let dir: string;
const settings = { workshop: {}, asked: {} };
const file = (name: string) => ({ path: join(dir, name), version: '1' });
beforeAll(() => {
  dir = mkdtempSync(join(tmpdir(), 'nightdraw-crew-'));
  const rows = (count: number) => ['t_s,current_mA', ...Array.from({ length: count }, (_, s) => `${s},${s % 700 < 5 ? 300 : 20 + (s % 7)}`)].join('\n');
  writeFileSync(join(dir, 'long.csv'), rows(400_000));
  writeFileSync(join(dir, 'short.csv'), rows(600));
});
afterAll(() => rmSync(dir, { recursive: true, force: true }));

test('while a long night is analysed, pictures come, and the server\'s thread is free', async () => {
  const readers = inThreads((line) => expect(line).toBe(''));
  // Both threads are up first.
  await Promise.all([readers.info(file('short.csv')), readers.findings(file('short.csv'), settings)]);
  let analysed = false;
  const delay = monitorEventLoopDelay({ resolution: 5 });
  delay.enable();
  const begin_ms = performance.now();
  const analysis = readers.findings(file('long.csv'), settings).then(() => (analysed = true));
  for (let i = 0; i < 5; i++) expect((await readers.overview(file('short.csv'), 0, 600, 10)).mean_mA).toHaveLength(10);
  expect(analysed).toBe(false);
  await analysis;
  delay.disable();
  expect(performance.now() - begin_ms).toBeGreaterThan(300);
  // Analysed in the server's own thread, that would be all of it at once.
  expect(delay.percentile(99) / 1e6).toBeLessThan(0.5 * (performance.now() - begin_ms));
  await readers.close();
  await expect(readers.info(file('short.csv'))).rejects.toThrow('stopping');
});

test('a file that is no night is told in one sentence, and the thread goes on', async () => {
  const readers = inThreads((line) => expect(line).toBe(''));
  await expect(readers.info(file('absent.csv'))).rejects.toThrow(/absent\.csv/);
  expect((await readers.info(file('short.csv'))).samples).toBe(600);
  await readers.close();
});

test('the desk keeps few files open, and fewer where they are large', async () => {
  const [opened, closed]: [string[], string[]] = [[], []];
  const desk = new Desk({ files: 3, bytes: 100 }, (path) => {
    opened.push(path);
    return Promise.resolve({ bytes: path === 'large' ? 90 : 10, close: () => closed.push(path) } as unknown as Source);
  });
  const ask = (path: string, version = '1') => desk.source({ path, version });
  for (const path of ['a', 'b', 'c', 'a', 'd']) await ask(path);
  expect([opened, closed]).toEqual([['a', 'b', 'c', 'd'], ['b']]);
  await ask('large');
  expect(closed).toEqual(['b', 'c', 'a']);
  await ask('large', '2');
  expect(closed).toEqual(['b', 'c', 'a', 'large']);
});
