// The page of all nights by car: the worst first, trends and tables that say the same, each night
// one press away, by the keyboard alone, at any width, and right again when a night comes.
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { expectAccessible } from './axe.ts';
import { setStage } from './page.ts';
import type { Stage } from './page.ts';

/** Three hours from that day on, asleep at that level, woken so many times. */
function night(day: number, level_mA: number, wakes: number): string {
  const begin_ms = Date.UTC(2031, 2, day, 20);
  const rows = Array.from({ length: 3 * 720 }, (_, i) => {
    const woken = wakes > 0 && i > 100 && i % Math.floor(2160 / (wakes + 1)) < 6;
    return `${new Date(begin_ms + i * 5000).toISOString()},${(i > 60 ? level_mA : 900) + (woken ? 400 : 0) + (i % 3) / 10}`;
  });
  return ['time,current_mA', ...rows].join('\n');
}

let stage: Stage;
beforeAll(async () => {
  stage = await setStage({
    'a1.nightdraw': { csv: night(1, 80, 0), job: 'order 17' },
    'a2.nightdraw': { csv: night(5, 30, 3), job: 'order 17, harness' },
    'a3.nightdraw': { csv: night(9, 12, 0), job: 'order 17, after the repair' },
    'b1.nightdraw': { csv: night(2, 61, 2), job: 'order 18 <b>&' },
    'b2.nightdraw': { csv: night(3, 65, 5), job: 'order 18 <b>&, again' },
    'alone.csv': night(4, 40, 0),
  });
}, 120_000);
afterAll(() => stage.close());

async function opened(width: number, dark = false) {
  const context = await stage.browser.newContext({
    viewport: { width, height: 900 },
    colorScheme: dark ? 'dark' : 'light',
  });
  const page = await context.newPage();
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning') stage.complaints.push(message.text());
  });
  await page.goto(`${stage.serving.url}fleet.html`);
  await page.getByText('3 cars, 6 nights').waitFor({ timeout: 60_000 });
  await page.waitForFunction(() => !document.querySelector('#count')!.textContent.includes('not read'));
  return page;
}

test.each([
  [360, true],
  [1280, false],
  [1920, true],
])('at %i px, dark: %s: the worst first, with its trends; nothing is wider than the window', async (width, dark) => {
  const page = await opened(width, dark);
  expect(await page.$$eval('.cars h2 a', (links) => links.map((link) => link.textContent))).toEqual([
    'order 18 <b>&, again',
    'alone',
    'order 17, after the repair',
  ]);
  expect(await page.$$eval('.cars > li', (all) => all.map((car) => car.querySelectorAll('svg').length))).toEqual([
    3, 0, 3,
  ]);
  // Average over the allowance: two nights of the one car, one of the other.
  const over = (n: number) =>
    page.$$eval(`.cars > li:nth-child(${n}) .trends > div:first-child [data-part="night-over"]`, (dots) => dots.length);
  expect([await over(1), await over(3)]).toEqual([2, 1]);
  for (const summary of await page.$$('.cars summary')) await summary.click();
  expect(await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)).toBeLessThanOrEqual(0);
  const low = await page.$$eval('main button, main summary, main a', (all) =>
    all.filter((e) => e.checkVisibility() && e.getBoundingClientRect().height < 48).map((e) => e.outerHTML),
  );
  expect(low).toEqual([]);
  await expectAccessible(page, 'the cars');
  await page.context().close();
});

test('with the keyboard alone: a car, its nights, and the oldest of them', async () => {
  const page = await opened(1280);
  await page.focus('.cars > li:nth-child(3) summary');
  await page.keyboard.press('Enter');
  const rows = await page.$$eval('.cars > li:nth-child(3) tbody tr', (all) =>
    all.map((row) => [...row.children].map((cell) => cell.textContent)),
  );
  expect(rows.map(([date, , level]) => [date, level])).toEqual([
    [expect.stringContaining('9 Mar 2031'), '12 mA'],
    [expect.stringContaining('5 Mar 2031'), '30 mA'],
    [expect.stringContaining('1 Mar 2031'), '80 mA'],
  ]);
  for (let i = 0; i < 4; i++) await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await page.waitForSelector('#picture [data-part="mean"]');
  expect(await page.title()).toContain('a1');
  await page.context().close();
});

test('a night that comes is there by itself, and what was open stays open', async () => {
  const page = await opened(1280);
  await page.click('.cars > li:nth-child(1) summary');
  writeFileSync(join(stage.captures, 'new.csv'), night(20, 300, 0));
  await page.getByText('4 cars, 7 nights').waitFor();
  expect(await page.textContent('.cars h2 a')).toBe('new');
  expect(await page.$$eval('.cars details[open]', (open) => open.length)).toBe(1);
  await page.context().close();
});

test('nobody complained', () => {
  expect(stage.complaints).toEqual([]);
});
