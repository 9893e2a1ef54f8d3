// Takes the gallery: the main states of the page as small PNG files, to be looked at.
// Run by hand, with `node --import tsx tests/browser/pictures.ts`.

import { mkdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Page } from 'playwright-core';
import { inventNight, RESTLESS, STAIRS } from './nights.ts';
import { setStage, settled } from './page.ts';

const PLACE = fileURLToPath(new URL('gallery/', import.meta.url));
mkdirSync(PLACE, { recursive: true });

const stage = await setStage({
  'faulty.nightdraw': { csv: inventNight(STAIRS).csv, job: 'order 17' },
  'repaired.nightdraw': {
    csv: inventNight({ hours: 8, levels: [...STAIRS.levels.slice(0, -1), { from_s: 1300, level_mA: 12 }], wakeups: [] }, 2).csv
      .replace(/^2026-11-2\d/gm, (day) => day.replace('2026-11', '2026-12')),
    job: 'order 17, after the repair',
  },
  'restless.csv': inventNight(RESTLESS).csv,
});

type Look = (page: Page) => Promise<unknown>;
const still: Look = () => Promise.resolve();
const closer: Look = async (page) => {
  await page.click('#events li[data-kind="wakeup"] button.go');
  await settled(page);
  await page.focus('#picture');
  for (let i = 0; i < 3; i++) await page.keyboard.press('ArrowRight');
};
const linear: Look = (page) => page.check('input[value="linear"]');
const compared: Look = async (page) => {
  await page.waitForSelector('#compare-other option[value="repaired.nightdraw"]', { state: 'attached' });
  await page.selectOption('#compare-other', 'repaired.nightdraw');
  await page.waitForSelector('.compared svg');
  await page.locator('#compare').scrollIntoViewIfNeeded();
};
const families: Look = async (page) => {
  await page.waitForSelector('[data-part="mean-waveform"]');
  await page.locator('#asked').scrollIntoViewIfNeeded();
};
const shelf: Look = async (page) => {
  await page.click('.shelf summary');
  await page.waitForSelector('[data-part="small-night"]');
};
const marked: Look = async (page) => {
  await page.focus('#picture');
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('m');
  await page.keyboard.type('bonnet opened');
  await page.keyboard.press('Enter');
  await page.waitForSelector('#marks li');
  await page.locator('#marks').scrollIntoViewIfNeeded();
};
const paper: Look = async (page) => {
  await page.emulateMedia({ media: 'print' });
  await page.evaluate(() => dispatchEvent(new Event('beforeprint')));
  await settled(page);
};

const SHOTS: [name: string, capture: string, width_px: number, dark: boolean, look: Look, full?: boolean][] = [
  ['night', 'faulty.nightdraw', 1280, false, still, true],
  ['night-dark', 'faulty.nightdraw', 1280, true, still],
  ['night-narrow', 'faulty.nightdraw', 360, false, still],
  ['night-wide', 'faulty.nightdraw', 2560, false, still],
  ['night-linear', 'faulty.nightdraw', 1280, false, linear],
  ['closer', 'faulty.nightdraw', 1280, false, closer],
  ['families', 'faulty.nightdraw', 1280, false, families],
  ['compared', 'faulty.nightdraw', 1280, false, compared],
  ['compared-narrow', 'faulty.nightdraw', 360, true, compared],
  ['captures', 'faulty.nightdraw', 1280, true, shelf],
  ['ten-thousand', 'restless.csv', 1280, false, still],
  ['marked', 'faulty.nightdraw', 1280, false, marked],
  ['paper', 'faulty.nightdraw', 800, true, paper],
];

for (const [name, capture, width_px, dark, look, full] of SHOTS) {
  const page = await stage.open(capture, width_px, { dark });
  await look(page);
  await settled(page);
  await page.screenshot({ path: `${PLACE}${name}.png`, fullPage: full === true });
  console.log(name);
  await page.context().close();
}
await stage.close();
if (stage.complaints.length > 0) throw new Error(stage.complaints.join('\n'));
