// A folder of many captures on the page: the newest first, found by words, more of them
// when asked for, and all of it by the keyboard.
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test, vi } from 'vitest';
import { expectAccessible } from './axe.ts';
import { setStage } from './page.ts';
import type { Stage } from './page.ts';

const MANY = 205;
let stage: Stage;
let page: Page;

/** A minute, half of it awake, on the n-th day of 2030. */
function minute(n: number): string {
  const at = Date.UTC(2030, 0, 1 + n, 6);
  return [
    'time,current_mA',
    ...Array.from({ length: 61 }, (_, s) => `${new Date(at + s * 1000).toISOString()},${s < 30 ? 400 : 20}`),
  ].join('\n');
}

beforeAll(async () => {
  stage = await setStage(
    Object.fromEntries(Array.from({ length: MANY }, (_, n) => [`van-${String(n).padStart(3, '0')}.csv`, minute(n)])),
  );
  page = await stage.open('van-204.csv', 1280);
  // Each is read once, one after the other, whether anybody looks at it or not.
  await vi.waitFor(
    async () => {
      const answer = await fetch(new URL('api/captures?search=short&count=1', stage.serving.url));
      expect(await answer.json()).toMatchObject({ found: MANY });
    },
    { timeout: 90_000, interval: 300 },
  );
}, 120_000);
afterAll(() => stage.close());

const titles = () => page.$$eval('.shelf li .title', (list) => list.map((e) => e.textContent));
const shown = (count: number) =>
  page.waitForFunction((n) => document.querySelectorAll('.shelf li').length === n, count, { timeout: 60_000 });

test('the newest 200 are listed and the rest on demand', async () => {
  await page.getByText(`and ${MANY - 1} more`).waitFor();
  await page.click('.shelf summary');
  await shown(200);
  await page.getByText(`${MANY} captures; the newest 200 are shown`).waitFor();
  expect((await titles())[0]).toBe('van-204');
  await page.getByRole('button', { name: 'Show more' }).click();
  await shown(MANY);
  expect((await titles()).at(-1)).toBe('van-000');
  expect(await page.getByRole('button', { name: 'Show more' }).isVisible()).toBe(false);
  await expectAccessible(page, 'the page');
}, 120_000);

test('words find captures far down, and the keyboard opens one', async () => {
  await page.fill('.shelf input', '2030-01-04');
  await shown(1);
  expect(await titles()).toEqual(['van-003']);
  await page.locator('.shelf input').focus();
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await page.waitForFunction(() => document.querySelector('.shelf .open')?.textContent === 'van-003');
  expect(stage.complaints).toEqual([]);
}, 120_000);
