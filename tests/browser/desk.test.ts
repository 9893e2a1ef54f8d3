// What is typed and compared below the picture, in a real browser: the car's facts, the
// job, marks, families, another night beside it, the list of captures; and that nothing
// on the page is out of reach for those who do not see it or use no mouse (axe-core).
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openCapture } from '../../host/capture/reader.ts';
import { inventNight, RESTLESS, STAIRS, STEADY } from './nights.ts';
import { setStage, settled } from './page.ts';
import type { Stage } from './page.ts';

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const HOSTILE = '<img src=x onerror="window.hit=1"> & </p><script>window.hit=2</script>';

let stage: Stage;
beforeAll(async () => {
  stage = await setStage({
    'night.nightdraw': { csv: inventNight(STAIRS).csv, job: '' },
    'after.nightdraw': { csv: inventNight({ ...STEADY, hours: 2 }).csv, job: 'after the repair' },
    'restless.csv': inventNight(RESTLESS).csv,
    'third.csv': inventNight({ ...STEADY, hours: 1.1 }).csv,
    'fourth.csv': inventNight({ ...STEADY, hours: 1.3 }).csv,
  });
}, 120_000);
afterAll(async () => {
  // The one setting that is refused on purpose is told by the browser too.
  expect(stage.complaints.filter((line) => !line.includes('status of 400'))).toEqual([]);
  await stage.close();
});

async function violations(page: Page): Promise<string[]> {
  await page.evaluate(AXE);
  return page.evaluate(async () => {
    const { violations } = await (globalThis as unknown as { axe: { run: () => Promise<{ violations: { id: string; nodes: { target: string[] }[] }[] }> } }).axe.run();
    return violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ target }) => target.join(' ')).join(', ')}`);
  });
}

describe('axe-core finds nothing', () => {
  test.each([[360, false], [1280, false], [1280, true], [2560, true]])('at %i px, dark %s', async (width, dark) => {
    const page = await stage.open('night.nightdraw', width, { dark });
    for (const part of ['#told', '#job', '#about']) await page.click(`${part} > summary`);
    await page.selectOption('select[name="compare"]', 'after.nightdraw');
    await page.waitForSelector('.compared table');
    expect(await violations(page)).toEqual([]);
    await page.click('.shelf summary');
    expect(await violations(page)).toEqual([]);
    expect(await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)).toBeLessThanOrEqual(0);
    await page.context().close();
  });

  test('with thousands of wake-ups', async () => {
    const page = await stage.open('restless.csv', 1280);
    expect(await violations(page)).toEqual([]);
    await page.context().close();
  });
});

test('what is known of the car changes the sentences, is refused in words where it cannot be, and goes away again', async () => {
  const page = await stage.open('night.nightdraw', 1280);
  const sentence = () => page.textContent('#verdict-sentence');
  const before = await sentence();
  await page.click('#told > summary');
  await page.fill('input[name="allowance_mA"]', '5');
  await page.fill('input[name="dead_after_days"]', '6');
  await page.keyboard.press('Enter');
  await page.waitForFunction((old) => document.querySelector('#verdict-sentence')!.textContent !== old, before);
  expect(await sentence()).toMatch(/5(\.\d+)?\smA allowance/);
  expect(await page.textContent('#meaning')).toContain('dead after 6 days');
  await page.fill('input[name="capacity_Ah"]', '-3');
  await page.click('form.told button[type="submit"]');
  await page.waitForFunction(() => document.querySelector('#told [role="alert"]')!.textContent !== '');
  expect(await page.textContent('#told [role="alert"]')).toContain('not a number from 5 to 300 Ah');
  await page.click('text=As it was');
  await page.waitForFunction((old) => document.querySelector('#verdict-sentence')!.textContent === old, before);
  await page.context().close();
});

test('the job is kept in the capture, whatever is typed, and stays text', async () => {
  const page = await stage.open('night.nightdraw', 1280);
  await page.click('#job > summary');
  for (const name of ['job', 'plate', 'vehicle', 'customer']) await page.fill(`form.job input[name="${name}"]`, HOSTILE.slice(0, name === 'plate' ? 40 : 120));
  await page.keyboard.press('Enter');
  await page.waitForFunction(() => document.querySelector('#job [role="status"]')!.textContent === 'Kept.');
  await page.waitForFunction((job) => document.querySelector('#verdict')!.textContent.includes(job), HOSTILE);
  expect(await page.evaluate(() => (window as unknown as { hit?: number }).hit ?? 0)).toBe(0);
  const capture = openCapture(join(stage.captures, 'night.nightdraw'));
  expect([capture.info().job, capture.personal().plate]).toEqual([HOSTILE, HOSTILE.slice(0, 40)]);
  capture.close();
  await page.context().close();
});

test('a mark is set, found and taken away by keys alone', async () => {
  const page = await stage.open('night.nightdraw', 1280);
  await page.focus('#picture');
  for (let i = 0; i < 3; i++) await page.keyboard.press('ArrowRight');
  await page.keyboard.press('m');
  await page.keyboard.type(`door ${HOSTILE}`);
  await page.keyboard.press('Enter');
  await page.waitForFunction(() => document.querySelectorAll('#marks li').length === 1);
  expect(await page.textContent('#picture')).toContain('door <img');
  const windowOf = () => page.$$eval('.grip', (grips) => grips.map((grip) => Number(grip.getAttribute('aria-valuenow'))));
  const whole = await windowOf();
  await page.focus('#marks li button');
  await page.keyboard.press('Enter');
  await settled(page);
  expect((await windowOf())[1]! - (await windowOf())[0]!).toBeLessThan(whole[1]! - whole[0]!);
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await page.waitForFunction(() => document.querySelectorAll('#marks li').length === 0);
  expect(await page.evaluate(() => (window as unknown as { hit?: number }).hit ?? 0)).toBe(0);
  await page.context().close();
});

test('each family is drawn with its members and their mean', async () => {
  const page = await stage.open('night.nightdraw', 1280);
  await page.waitForSelector('#families [data-part="members-mean"]');
  const { members, words } = await page.evaluate(() => ({
    members: document.querySelectorAll('#families figure:first-child [data-part="member"]').length,
    words: document.querySelector('#families figure:first-child figcaption')!.textContent,
  }));
  expect(members).toBeGreaterThan(1);
  expect(words).toMatch(new RegExp(`^Family \\d+: \\d+ wake-ups, .*${members} of them`));
  await page.context().close();
});

test('another night beside it: two lines on one axis, and the numbers of both', async () => {
  const page = await stage.open('night.nightdraw', 1280);
  await page.selectOption('select[name="compare"]', 'after.nightdraw');
  await page.waitForSelector('.compared table');
  expect(await page.$$eval('.compared [data-part="pair-line"]', (lines) => lines.map((line) => line.getAttribute('d')!.length > 20))).toEqual([true, true]);
  const rows = await page.$$eval('.compared tbody tr', (list) => Object.fromEntries(list.map((row) => [row.children[0]!.textContent, [row.children[1]!.textContent, row.children[2]!.textContent]])));
  expect(Object.keys(rows)).toEqual(['recorded', 'asleep after', 'level asleep', 'wake-ups', 'mean asleep', 'a day asleep', 'days until it may not crank', 'longest wake-up']);
  expect(rows['wake-ups']).not.toEqual(['0 times', '0 times']);
  await page.selectOption('select[name="compare"]', '');
  expect(await page.$('.compared table')).toBeNull();
  await page.context().close();
});

test('the list shows each night small, and finds by name and job', async () => {
  const page = await stage.open('night.nightdraw', 1280);
  await page.click('.shelf summary');
  await page.waitForFunction(() => document.querySelectorAll('.shelf li svg').length >= 4);
  await page.fill('.shelf input', 'repair');
  expect(await page.$$eval('.shelf li:not([hidden]) .title', (list) => list.map((title) => title.textContent))).toEqual(['after']);
  await page.fill('.shelf input', '');
  expect(await page.$$eval('.shelf li:not([hidden])', (list) => list.length)).toBe(5);
  await page.context().close();
});

test('in print the night, its meaning and its families stand; what is typed into does not', async () => {
  const page = await stage.open('night.nightdraw', 1280);
  await page.waitForSelector('#families [data-part="members-mean"]');
  await page.emulateMedia({ media: 'print' });
  const shown = (selector: string) => page.$eval(selector, (element) => (element as HTMLElement).offsetHeight > 0);
  expect([await shown('#picture'), await shown('#meaning'), await shown('#families'), await shown('.bench')]).toEqual([true, true, true, false]);
  await page.context().close();
});
