// The page is told of changes and asks for nothing else: an idle page asks nothing, a new
// night appears by itself, a hidden page is silent, and a server that went away and came back
// is found again.
import { rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest';
import { minute } from '../unit/server/minute.ts';
import { ServedStage } from './served.ts';

const stage = new ServedStage('');

const put = (name: string, day: number) => writeFileSync(join(stage.captures, name), minute(day));

beforeAll(async () => {
  put('first.csv', 1);
  await stage.launch();
  await stage.serve();
});
afterAll(() => stage.close());

let page: Page;
let asked: string[];
beforeEach(async () => {
  page = await stage.page(1280, {
    // What a tab in the background tells of itself.
    init: [
      () => {
        Object.defineProperty(document, 'hidden', { get: () => sessionStorage.getItem('hidden') === 'yes' });
      },
    ],
  });
  asked = [];
  page.on('request', (request) => asked.push(new URL(request.url()).pathname + new URL(request.url()).search));
  await opened();
  return () => page.context().close();
});

const opened = () => page.waitForSelector('#main:not([aria-busy]) #picture [data-part="mean"]');
const total = (count: number) => page.getByText(`and ${count - 1} more`).waitFor();
const hide = (hidden: boolean) =>
  page.evaluate((now) => {
    sessionStorage.setItem('hidden', now ? 'yes' : 'no');
    document.dispatchEvent(new Event('visibilitychange'));
  }, hidden);

test('an idle page asks for nothing; a file that is put there appears, one that goes is gone', async () => {
  await page.waitForTimeout(1500);
  asked.length = 0;
  await page.waitForTimeout(12_000);
  expect(asked).toEqual([]);
  const begin_ms = performance.now();
  put('second.csv', 2);
  await total(2);
  console.log(`      (a new file was seen after ${(performance.now() - begin_ms).toFixed(0)} ms)`);
  await page.waitForFunction(() => document.querySelectorAll('.shelf li[data-state="ready"]').length === 2);
  put('third.csv', 3);
  await total(3);
  rmSync(join(stage.captures, 'third.csv'));
  await total(2);
  // For some changes some questions, each for the list and nothing else.
  expect(asked.filter((path) => path !== '/api/captures')).toEqual([]);
  expect(asked.length).toBeLessThan(12);
}, 60_000);

test('a hidden page hears and asks nothing, and is right as soon as somebody looks', async () => {
  await page.waitForTimeout(1500);
  await hide(true);
  asked.length = 0;
  put('fourth.csv', 4);
  await page.waitForTimeout(8000);
  expect(asked).toEqual([]);
  await hide(false);
  await total(3);
  expect(asked[0]).toBe('/api/live?only=changes');
}, 60_000);

test('a server that went away is told of in words; when it is back the page knows the list again', async () => {
  const { port } = stage;
  await stage.kill();
  await page.waitForSelector('#message:not([hidden])');
  expect(await page.textContent('#message')).toContain('does not answer');
  put('fifth.csv', 5);
  await stage.serve(port);
  await total(4);
  await page.waitForSelector('#message', { state: 'hidden' });
  // And it hears again.
  put('sixth.csv', 6);
  await total(5);
}, 90_000);

test('nobody complained', () => {
  expect(stage.complaints).toEqual([]);
});
