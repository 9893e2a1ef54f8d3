// How soon the page shows a night, and how long it takes to draw one move, in
// Debian's chromium.

import { chromium } from 'playwright-core';
import type { Page } from 'playwright-core';
import { CHROMIUM, FLAGS } from '../browser/page.ts';
import { median } from './figures.ts';

const MOVES = 60;

export interface PageTimes {
  /** From navigation to the mean line in the document. */
  first_ms: number;
  /** Median from the beginning of the frame that draws a move to its layout and paint being through. */
  move_ms: number;
}

/** @param url the page with the capture in its address */
export async function pageTimes(url: string): Promise<PageTimes> {
  const browser = await chromium.launch({
    executablePath: CHROMIUM,
    args: FLAGS,
    headless: true,
  });
  try {
    const page = await browser.newPage({ viewport: { width: 1280, height: 900 } });
    await page.addInitScript(() => {
      const seen = new MutationObserver(() => {
        if (document.querySelector('#picture [data-part="mean"]') === null) return;
        seen.disconnect();
        performance.mark('first picture');
      });
      seen.observe(document, { childList: true, subtree: true });
    });
    await page.goto(url);
    await page.waitForFunction(() => performance.getEntriesByName('first picture').length > 0, undefined, {
      timeout: 60_000,
    });
    const first_ms = await page.evaluate(() => performance.getEntriesByName('first picture')[0]!.startTime);
    // The analysis is through before moves are timed: it would take the processor from the page.
    await page.waitForSelector('#main:not([aria-busy])', { timeout: 300_000 });
    return { first_ms, move_ms: median(await moves(page)) };
  } finally {
    await browser.close();
  }
}

/** Median from navigation to the first list of captures being drawn and painted, the list open; milliseconds. */
export async function listPage_ms(url: string, times: number): Promise<number> {
  const browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS, headless: true });
  try {
    const all: number[] = [];
    for (let i = 0; i < times; i++) {
      // Each time as the first time: nothing is kept from the one before.
      const page = await browser.newPage({ viewport: { width: 1280, height: 900 } });
      await page.addInitScript(() => {
        const seen = new MutationObserver(() => {
          const shelf = document.querySelector<HTMLDetailsElement>('.shelf details');
          if (shelf !== null) shelf.open = true;
          const row = document.querySelector('.shelf li .title');
          if (row === null || !row.checkVisibility()) return;
          seen.disconnect();
          // The message comes after the layout and the paint of the frame that draws it.
          requestAnimationFrame(() => {
            const after = new MessageChannel();
            after.port1.onmessage = () => performance.mark('first list');
            after.port2.postMessage(null);
          });
        });
        seen.observe(document, { childList: true, subtree: true });
      });
      await page.goto(url);
      await page.waitForFunction(() => performance.getEntriesByName('first list').length > 0);
      all.push(await page.evaluate(() => performance.getEntriesByName('first list')[0]!.startTime));
      await page.close();
    }
    return median(all);
  } finally {
    await browser.close();
  }
}

/** Zooms in and out by the wheel, one notch a frame. */
function moves(page: Page): Promise<number[]> {
  return page.evaluate(async (count) => {
    const picture = document.querySelector('#picture')!;
    const box = picture.getBoundingClientRect();
    const times: number[] = [];
    for (let i = 0; i < count; i++) {
      times.push(
        await new Promise<number>((resolve) => {
          picture.dispatchEvent(
            new WheelEvent('wheel', {
              deltaY: i % 20 < 10 ? -200 : 200,
              clientX: box.left + box.width / 2,
              clientY: box.top + 200,
              cancelable: true,
              bubbles: true,
            }),
          );
          // Asked for after the page's own frame, so it runs when that has drawn; the message comes after layout and
          // paint.
          requestAnimationFrame((begin_ms) => {
            const after = new MessageChannel();
            after.port1.onmessage = () => resolve(performance.now() - begin_ms);
            after.port2.postMessage(null);
          });
        }),
      );
    }
    return times;
  }, MOVES);
}
