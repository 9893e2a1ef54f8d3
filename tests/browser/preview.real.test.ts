// The report on the page: the preview is the report, follows what is chosen, prints as the PDF
// says, and the job folder is written from it.
import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { expectAccessible } from './axe.ts';
import { inventNight, STAIRS } from './nights.ts';
import { setStage, unfold } from './page.ts';
import type { Stage } from './page.ts';

const LATER = inventNight(
  { hours: 8, levels: [...STAIRS.levels.slice(0, -1), { from_s: 1300, level_mA: 12 }], wakeups: [] },
  2,
).csv.replace(/^2026-11-2\d/gm, (day) => day.replace('2026-11', '2026-12'));
const dir = mkdtempSync(join(tmpdir(), 'nightdraw-preview-'));
let stage: Stage;
beforeAll(async () => {
  stage = await setStage({
    'faulty.nightdraw': { csv: inventNight(STAIRS).csv, job: 'order 17' },
    'repaired.nightdraw': { csv: LATER, job: 'order 17, after' },
  });
}, 120_000);
afterAll(async () => {
  await stage.close();
  rmSync(dir, { recursive: true, force: true });
});

const frameOf = async (page: Page) => {
  await page.waitForSelector('.preview iframe:not(.coming)');
  await page.waitForSelector('.preview iframe.coming', { state: 'detached' });
  return (await (await page.$('.preview iframe'))!.contentFrame())!;
};
const api = (path: string) => new URL(`api/captures/${path}`, stage.serving.url);
const html = (name: string, more = '') => fetch(api(`${name}/report?format=html${more}`)).then((r) => r.text());

test('the preview is the report, as tall as it is, and follows what is chosen and entered', async () => {
  const page = await stage.open('repaired.nightdraw', 1280);
  await unfold(page, 'report');
  const text = async () => (await frameOf(page)).evaluate(() => document.documentElement.outerHTML);
  const asServed = async (more = '') => {
    const plain = await stage.browser.newPage();
    await plain.setContent(await html('repaired.nightdraw', more));
    const same = await plain.evaluate(() => document.documentElement.outerHTML);
    await plain.close();
    return same;
  };
  expect(await text()).toBe(await asServed());
  const frame = await frameOf(page);
  expect(await frame.evaluate(() => document.documentElement.scrollHeight - innerHeight)).toBeLessThanOrEqual(1);
  await page.waitForSelector('#report-before option[value="faulty.nightdraw"]', { state: 'attached' });
  await page.selectOption('#report-before', 'faulty.nightdraw');
  await page.waitForFunction(() => document.querySelector('.preview iframe')?.getAttribute('src')?.includes('before='));
  expect(await text()).toBe(await asServed('&before=faulty.nightdraw'));
  await unfold(page, 'asked');
  await page.fill('#asked-allowance_mA', '77');
  await page.keyboard.press('Enter');
  await page.waitForFunction(() =>
    document.querySelector('.preview iframe:not(.coming)')?.getAttribute('src')?.includes('allowance_mA=77'),
  );
  expect(await text()).toContain('77 mA');
  await expectAccessible(page, 'the preview');
  // Nothing in it may run, and it may fetch nothing.
  expect(await page.getAttribute('.preview iframe', 'sandbox')).toBe('allow-same-origin allow-modals');
  await page.context().close();
});

test.each([
  ['a4', ''],
  ['letter', ''],
  ['a4', '&before=faulty.nightdraw'],
])('printed on %s (%s) it has the pages and the words of the PDF', async (paper, more) => {
  const page = await stage.browser.newPage();
  await page.goto(api(`repaired.nightdraw/report?format=html&shown=yes&paper=${paper}${more}`).href);
  const [printed, made] = [join(dir, 'printed.pdf'), join(dir, 'made.pdf')];
  writeFileSync(printed, await page.pdf({ preferCSSPageSize: true, printBackground: true }));
  await page.close();
  const pdf = await fetch(api(`repaired.nightdraw/report?format=pdf&paper=${paper}${more}`));
  writeFileSync(made, Buffer.from(await pdf.arrayBuffer()));
  const words = (file: string) =>
    execFileSync('pdftotext', ['-layout', file, '-'], { encoding: 'utf8' })
      // A line may end after a hyphen.
      .split(/[\s-]+/)
      .filter((word) => word !== '')
      .sort();
  const facts = (file: string) => {
    const text = execFileSync('pdfinfo', [file], { encoding: 'utf8' });
    const [, width, height] = /Page size:\s+([\d.]+) x ([\d.]+)/.exec(text)!;
    return [/Pages:\s+(\d+)/.exec(text)![1], Math.round(Number(width)), Math.round(Number(height))];
  };
  expect(facts(printed)).toEqual(facts(made));
  expect(facts(made)[0]).toBe('1');
  expect(words(made).length).toBeGreaterThan(150);
  expect(words(printed)).toEqual(words(made));
});

test('Print prints the preview; the job folder is written beside the captures', async () => {
  const page = await stage.open('repaired.nightdraw', 390);
  await unfold(page, 'report');
  const frame = await frameOf(page);
  await page.$eval('.preview iframe', (shown) => {
    (shown as HTMLIFrameElement).contentWindow!.print = () => shown.setAttribute('data-printed', 'yes');
  });
  await page.getByRole('button', { name: 'Print' }).click();
  expect(await page.getAttribute('.preview iframe', 'data-printed')).toBe('yes');
  expect(await frame.textContent('h1')).toMatch(/12\smA/);
  await page.getByRole('button', { name: 'Job folder' }).click();
  await page.getByText('lies beside the captures').waitFor();
  const folder = /(\S+-repaired-job)/.exec((await page.textContent('#report .said'))!)![1]!;
  expect(readdirSync(join(stage.captures, folder))).toHaveLength(4);
  expect(existsSync(join(stage.captures, folder, folder.replace(/-job$/, '.nightdraw')))).toBe(true);
  expect(await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)).toBeLessThanOrEqual(0);
  await page.context().close();
});

test('nobody complained', () => {
  expect(stage.complaints).toEqual([]);
});
