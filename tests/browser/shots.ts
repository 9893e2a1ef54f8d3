// The gallery: the main states of the page, and how to get to each. pictures.ts takes them,
// gallery.real.test.ts compares them with what is kept.

import type { Page } from 'playwright-core';
import { inventNight, RESTLESS, STAIRS } from './nights.ts';
import { quiet, setStage, settled, unfold } from './page.ts';
import type { Stage } from './page.ts';

const NIGHTS = {
  'faulty.nightdraw': { csv: inventNight(STAIRS).csv, job: 'order 17' },
  'repaired.nightdraw': {
    csv: inventNight(
      { hours: 8, levels: [...STAIRS.levels.slice(0, -1), { from_s: 1300, level_mA: 12 }], wakeups: [] },
      2,
    ).csv.replace(/^2026-11-2\d/gm, (day) => day.replace('2026-11', '2026-12')),
    job: 'order 17, after the repair',
  },
  'restless.csv': inventNight(RESTLESS).csv,
};

type Look = (page: Page) => Promise<unknown>;
const closer: Look = async (page) => {
  await page.click('#events li[data-kind="wakeup"] button.go');
  await settled(page);
  await page.focus('#picture');
  for (let i = 0; i < 3; i++) await page.keyboard.press('ArrowRight');
};
const linear: Look = (page) => page.check('input[value="linear"]');
const compared: Look = async (page) => {
  await page.waitForSelector('#compare-other option[value="repaired.nightdraw"]', { state: 'attached' });
  await unfold(page, 'compare');
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

export interface Shot {
  name: string;
  capture: string;
  width_px: number;
  dark?: boolean;
  look?: Look;
  /** The whole page, not only what fits the window. */
  full?: boolean;
}

export const SHOTS: Shot[] = [
  { name: 'night', capture: 'faulty.nightdraw', width_px: 1280, full: true },
  { name: 'night-dark', capture: 'faulty.nightdraw', width_px: 1280, dark: true },
  { name: 'night-narrow', capture: 'faulty.nightdraw', width_px: 360 },
  { name: 'night-wide', capture: 'faulty.nightdraw', width_px: 2560 },
  { name: 'night-linear', capture: 'faulty.nightdraw', width_px: 1280, look: linear },
  { name: 'closer', capture: 'faulty.nightdraw', width_px: 1280, look: closer },
  { name: 'families', capture: 'faulty.nightdraw', width_px: 1280, look: families },
  { name: 'compared', capture: 'faulty.nightdraw', width_px: 1280, look: compared },
  { name: 'compared-narrow', capture: 'faulty.nightdraw', width_px: 360, dark: true, look: compared },
  { name: 'captures', capture: 'faulty.nightdraw', width_px: 1280, dark: true, look: shelf },
  { name: 'ten-thousand', capture: 'restless.csv', width_px: 1280 },
  { name: 'marked', capture: 'faulty.nightdraw', width_px: 1280, look: marked },
  { name: 'paper', capture: 'faulty.nightdraw', width_px: 800, dark: true, look: paper },
];

/** Resolves when every night has been read: pages opened from then on show the same. */
export async function setGallery(): Promise<Stage> {
  const stage = await setStage(NIGHTS);
  const page = await stage.browser.newPage();
  await page.goto(stage.serving.url);
  await page.waitForFunction(async () => {
    const { captures } = (await (await fetch('/api/captures')).json()) as { captures: { state: string }[] };
    return captures.every(({ state }) => state === 'ready');
  });
  await page.close();
  return stage;
}

/** A page that shows it, with nothing under way any more. */
export async function shown(stage: Stage, { capture, width_px, dark = false, look }: Shot): Promise<Page> {
  const page = await stage.open(capture, width_px, { dark });
  await look?.(page);
  await settled(page);
  await quiet(page);
  await settled(page);
  return page;
}
