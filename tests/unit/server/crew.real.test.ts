// Files are read in threads of their own: a long analysis holds up neither the server
// nor a picture, and a thread that died is replaced.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setImmediate as othersTurn } from 'node:timers/promises';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { inThreads } from '../../../host/server/reading/crew.ts';
import { Desk } from '../../../host/server/reading/desk.ts';
import type { Source } from '../../../host/server/reading/source.ts';

let dir: string;
const settings = { workshop: {}, asked: {} };
const file = (name: string) => ({ path: join(dir, name), version: '1' });
beforeAll(() => {
  dir = mkdtempSync(join(tmpdir(), 'nightdraw-crew-'));
  const rows = (count: number) =>
    ['t_s,current_mA', ...Array.from({ length: count }, (_, s) => `${s},${s % 700 < 5 ? 300 : 20 + (s % 7)}`)].join(
      '\n',
    );
  writeFileSync(join(dir, 'long.csv'), rows(400_000));
  writeFileSync(join(dir, 'short.csv'), rows(600));
});
afterAll(() => rmSync(dir, { recursive: true, force: true }));

test("while a long night is analysed, pictures come, and the server's thread is free", async () => {
  const logged: string[] = [];
  const readers = inThreads((line) => logged.push(line));
  // Both threads are up first.
  await Promise.all([readers.info(file('short.csv')), readers.findings(file('short.csv'), settings)]);
  let analysed = false;
  const analysis = readers.findings(file('long.csv'), settings).then(() => (analysed = true));
  // Analysed in the server's own thread, it would leave no turn to anybody until it is through.
  let turns = 0;
  const counting = (async () => {
    while (!analysed) {
      await othersTurn();
      turns++;
    }
  })();
  for (let i = 0; i < 5; i++)
    expect((await readers.overview(file('short.csv'), 0, 600, 10)).value()).toMatchObject({ mean_mA: { length: 10 } });
  expect(analysed).toBe(false);
  await analysis;
  await counting;
  expect(turns).toBeGreaterThan(1000);
  await readers.close();
  expect(logged).toEqual([]);
  await expect(readers.info(file('short.csv'))).rejects.toThrow('stopping');
});

test('a file that is no night is told in one sentence, and the thread goes on', async () => {
  const logged: string[] = [];
  const readers = inThreads((line) => logged.push(line));
  await expect(readers.info(file('absent.csv'))).rejects.toThrow(/absent\.csv/);
  expect((await readers.info(file('short.csv'))).samples).toBe(600);
  await readers.close();
  expect(logged).toEqual([]);
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
