// What stands around the picture, in a real browser from the real server: families,
// what the reader knows of the car, marks, job details, the list of captures, and two
// nights beside each other. No violation of axe-core's rules anywhere.

import { readFileSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { expectAccessible } from './axe.ts';
import { inventNight, STAIRS } from './nights.ts';
import type { NightPlan } from './nights.ts';
import { setStage, settled, unfold } from './page.ts';
import type { Stage } from './page.ts';

const HOSTILE = '<img src=x onerror=alert(1)>"\'&';
/** The same night after the repair: what woke it is gone, and it draws less asleep. */
const REPAIRED: NightPlan = {
  hours: 8,
  levels: [...STAIRS.levels.slice(0, -1), { from_s: 1300, level_mA: 12 }],
  wakeups: [],
};

let stage: Stage;
beforeAll(async () => {
  stage = await setStage({
    'faulty.nightdraw': { csv: inventNight(STAIRS).csv, job: 'order 17' },
    'repaired.nightdraw': {
      csv: inventNight(REPAIRED, 2).csv.replace(/^2026-11-2\d/gm, (day) => day.replace('2026-11', '2026-12')),
      job: 'order 17, after',
    },
    'plain.csv': inventNight({ ...REPAIRED, hours: 1.5 }).csv,
  });
}, 120_000);
afterAll(async () => stage.close());

async function compare(page: Page, name: string): Promise<void> {
  await page.waitForFunction(
    (wanted) =>
      [...document.querySelectorAll('#compare-other option')].some((option) => option.getAttribute('value') === wanted),
    name,
  );
  await unfold(page, 'compare');
  await page.selectOption('#compare-other', name);
  await page.waitForSelector('.compared [data-part="after"]');
}

describe('axe-core finds nothing', () => {
  test.each([
    [360, false],
    [1280, true],
    [2560, false],
  ] as const)('at %i px, dark: %s, with everything open; nothing is wider than the window', async (width, dark) => {
    const page = await stage.open('faulty.nightdraw', width, { dark });
    await page.waitForSelector('[data-part="mean-waveform"]');
    await compare(page, 'repaired.nightdraw');
    for (const id of ['marks', 'asked', 'details', 'report']) await unfold(page, id);
    await expectAccessible(page, 'the night');
    expect(await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)).toBeLessThanOrEqual(0);
    await page.click('.shelf summary');
    await expectAccessible(page, 'the list of captures');
    await page.context().close();
  });
});

describe('the report', () => {
  const say = (page: Page) =>
    page
      .waitForFunction(
        () => document.querySelector('#report .said')?.textContent.replace(/^Making.*|^Writing.*/, '') ?? '',
        undefined,
        {
          timeout: 60_000,
        },
      )
      .then((said) => said.jsonValue());

  test('is made as the night is judged, by the keyboard alone, and kept as a file', async () => {
    const page = await stage.open('repaired.nightdraw', 360);
    await unfold(page, 'asked');
    await page.fill('#asked-allowance_mA', '77');
    await page.click('[data-form="asked"] button');
    await page.getByText('Recalculated').waitFor();
    await page.focus('#report summary');
    await page.keyboard.press('Enter');
    await page.waitForFunction(() =>
      [...document.querySelectorAll('#report-before option')].some(
        (option) => option.getAttribute('value') === 'faulty.nightdraw',
      ),
    );
    await page.focus('#report-before');
    await page.keyboard.type('faulty');
    await page.getByRole('button', { name: 'Web page (HTML)' }).focus();
    const [kept] = await Promise.all([
      page.waitForEvent('download', { timeout: 60_000 }),
      page.keyboard.press('Enter'),
    ]);
    expect(kept.suggestedFilename()).toMatch(/^2026-12-\d\d-repaired-report\.html$/);
    const text = readFileSync(await kept.path(), 'utf8');
    expect(text).toContain('order 17, after');
    expect(text).toContain('77 mA');
    expect(text).toMatch(/faulty/);
    expect(await say(page)).toContain(kept.suggestedFilename());
    await page.context().close();
  });

  test('that cannot be made says why', async () => {
    const page = await stage.open('repaired.nightdraw', 1280);
    await unfold(page, 'report');
    await page.waitForFunction(() =>
      [...document.querySelectorAll('#report-bay option')].some(
        (option) => option.getAttribute('value') === 'faulty.nightdraw',
      ),
    );
    await page.selectOption('#report-bay', 'faulty.nightdraw');
    expect(await say(page)).toMatch(/^faulty\.nightdraw holds no work in the bay/);
    // The refusal is one of the server's answers, which a browser also writes into its console.
    expect(stage.complaints.splice(0)).toEqual([expect.stringContaining('422')]);
    await page.context().close();
  });
});

test('on a phone the name of the night has room, and the other pages are one press away', async () => {
  const page = await stage.open('faulty.nightdraw', 360);
  expect((await page.locator('.shelf .open').boundingBox())!.width).toBeGreaterThan(40);
  expect(await page.$$eval('.pages a', (links) => links.map((link) => link.getAttribute('href')))).toEqual([
    './live.html',
    './bay.html',
    './fleet.html',
  ]);
  await page.context().close();
});

test('a family is drawn as its members over each other, and their mean rises as the wake-ups do', async () => {
  const page = await stage.open('faulty.nightdraw', 1280);
  await page.waitForSelector('[data-part="mean-waveform"]');
  expect(await page.$$eval('.families li [data-part="member"]', (list) => list.length)).toBe(10);
  expect(await page.textContent('.families li')).toMatch(/^Family 1: 15 wake-upsevery 34 min, 48 s/);
  const box = (selector: string) => page.$eval(selector, (e) => (e as SVGGraphicsElement).getBBox().height);
  // 1.9 A of an axis up to some 2.2 A.
  expect(await box('[data-part="mean-waveform"]')).toBeGreaterThan(60);
  await page.click('.families button');
  await settled(page);
  expect(await page.getAttribute('#events li.selected', 'data-kind')).toBe('family');
  await page.context().close();
});

test('what the reader knows is judged by: allowance, battery and complaint; a refusal is told in words', async () => {
  const page = await stage.open('faulty.nightdraw', 1280);
  const verdict = () => page.getAttribute('#verdict', 'data-verdict');
  const before = await verdict();
  await unfold(page, 'asked');
  await page.selectOption('#asked-battery_type', 'agm');
  await page.fill('#asked-capacity_Ah', '70');
  await page.fill('#asked-dead_after_days', '6');
  await page.fill('#asked-allowance_mA', '12,5');
  await page.keyboard.press('Enter');
  await page.waitForFunction((old) => document.querySelector('#verdict')?.getAttribute('data-verdict') !== old, before);
  expect(await verdict()).toBe('over');
  expect(await page.textContent('#picture [data-label="allowance"]')).toBe('allowance 12.5 mA');
  expect(await page.textContent('#meaning')).toMatch(/6\sdays/);
  const heard = stage.complaints.length;
  await page.fill('#asked-capacity_Ah', 'many');
  await page.click('[data-form="asked"] button');
  await page.waitForSelector('[data-form="asked"] .said.refused');
  expect(await page.textContent('[data-form="asked"] .said')).toMatch(/5 to 300 Ah/);
  stage.complaints.length = heard;
  await page.context().close();
});

test('job details and marks are typed, kept in the capture, and stay text', async () => {
  const page = await stage.open('repaired.nightdraw', 1280);
  page.on('dialog', () => stage.complaints.push('a typed script ran'));
  await unfold(page, 'details');
  await page.fill('#details-job', `order 18 ${HOSTILE}`);
  await page.fill('#details-customer', HOSTILE);
  await page.click('[data-form="details"] button');
  await page.waitForFunction(
    () => document.querySelector('[data-form="details"] .said')?.textContent === 'Kept in the capture.',
  );
  await page.waitForFunction(
    (job) => document.querySelector('.verdict .when')?.textContent.includes(job),
    `order 18 ${HOSTILE}`,
  );
  // By the keyboard alone, at an instant that was chosen by it.
  await page.focus('#picture');
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('m');
  await page.keyboard.type(`bonnet opened ${HOSTILE}`);
  await page.keyboard.press('Enter');
  await page.waitForSelector('#marks li');
  expect(await page.textContent('#marks li .title')).toBe(`bonnet opened ${HOSTILE}`);
  expect(await page.textContent('#picture [data-label="mark"]')).toMatch(/^bonnet opened/);
  await page.reload();
  await page.getByText('Marks: 1').click();
  await page.waitForSelector('#marks li');
  await page.waitForSelector('#details-job', { state: 'attached' });
  expect(await page.inputValue('#details-customer')).toBe(HOSTILE);
  expect(await page.$$('img, body script:not([src])')).toEqual([]);
  await page.click('#marks li .go');
  await settled(page);
  expect(await page.textContent('#reading')).toMatch(/\d+(\.\d+)? mA/);
  await page.click('#marks li .quiet');
  await page.waitForSelector('#marks li', { state: 'detached' });
  await page.context().close();
});

test('a CSV says that it has no room for them', async () => {
  const page = await stage.open('plain.csv', 1280);
  expect(await page.textContent('#details')).toContain('nightdraw import');
  expect(await page.isVisible('[data-form="mark"]')).toBe(false);
  await page.context().close();
});

test('the list of captures has small pictures and is searched', async () => {
  const page = await stage.open('faulty.nightdraw', 1280);
  await page.waitForFunction(() => document.querySelectorAll('.shelf li[data-state="ready"]').length === 3);
  await page.click('.shelf summary');
  await page.waitForFunction(() => document.querySelectorAll('.shelf [data-part="small-night"]').length === 3);
  await page.fill('.shelf input', 'FAULTY order');
  await page.waitForFunction(() => document.querySelectorAll('.shelf li').length === 1);
  expect(await page.$$eval('.shelf li .title', (list) => list.map((e) => e.textContent))).toEqual(['faulty']);
  await page.fill('.shelf input', 'nothing like it');
  await page.getByText('No capture has these words.').waitFor();
  await page.fill('.shelf input', '');
  await page.waitForFunction(() => document.querySelectorAll('.shelf li').length === 3);
  await page.context().close();
});

test('before and after a repair stand on one axis, with the numbers of both', async () => {
  const page = await stage.open('repaired.nightdraw', 1280);
  await compare(page, 'faulty.nightdraw');
  expect(await page.$$eval('.legend li', (list) => list.map((e) => e.textContent))).toEqual([
    'before: faulty',
    'after: repaired',
  ]);
  const rows = await page.$$eval('.compared tbody tr', (list) =>
    list.map((row) => [...row.children].map((cell) => cell.textContent)),
  );
  const of = (what: string) => rows.find(([first]) => first === what)!;
  expect(of('asleep level')[1]).toMatch(/^19 mA$/);
  expect(of('asleep level')[2]).toMatch(/^12 mA$/);
  expect(of('asleep level')[3]).toMatch(/^\u2212(7\.\d|6\.9) mA$/);
  // 16 wake-ups in 9 h are 43 in 24 h.
  expect(of('wake-ups in 24 h').slice(1)).toEqual(['43', '0', '\u221243']);
  expect(of('charge a day asleep')[3]).toMatch(/^\u2212/);
  expect(of('days until it may not crank')[1]).toMatch(/^\d+ to \d+$/);
  await page.context().close();
});

test('on paper: light colours, the picture and the bill, no forms', async () => {
  const page = await stage.open('faulty.nightdraw', 1280, { dark: true });
  await page.emulateMedia({ media: 'print' });
  await page.evaluate(() => dispatchEvent(new Event('beforeprint')));
  await settled(page);
  expect(await page.evaluate(() => document.documentElement.style.colorScheme)).toBe('light');
  for (const [selector, seen] of [
    ['#picture', true],
    ['.bill svg', true],
    ['#asked', false],
    ['#details', false],
    ['[data-form="mark"]', false],
  ] as const) {
    expect(await page.isVisible(selector), selector).toBe(seen);
  }
  await page.context().close();
});

test('nothing was complained of', () => {
  expect(stage.complaints).toEqual([]);
});
