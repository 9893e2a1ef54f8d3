// The way in for a tablet, in a real browser: a code good once, and what a device is
// told whose code or cookie is good no more. A second loopback address stands for the
// network's.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium } from 'playwright-core';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { hostClock } from '../../host/commands/host-clock.ts';
import { expectAccessible } from './axe.ts';
import { serve } from '../../host/server/serve.ts';
import type { Serving } from '../../host/server/serve.ts';
import { quietPort } from '../quiet-port.ts';
import { CHROMIUM, FLAGS } from './page.ts';

const PAGE = new URL('../../.build/web', import.meta.url).pathname;
const dir = mkdtempSync(join(tmpdir(), 'nightdraw-lan-'));
let serving: Serving;
let browser: Browser;

const start = (port: number) =>
  serve({ checksAnswers: true, clock: hostClock, dir, port, pageDir: PAGE, lan: '127.0.0.2', log: () => undefined });
beforeAll(async () => {
  serving = await start(await quietPort());
  browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS, headless: true });
}, 60_000);
afterAll(async () => {
  await browser.close();
  await serving.close();
  rmSync(dir, { recursive: true, force: true });
});

async function device(url: string): Promise<Page> {
  const page = await (await browser.newContext({ viewport: { width: 800, height: 1100 } })).newPage();
  await page.goto(url);
  return page;
}

const said = (page: Page, words: RegExp) =>
  page.waitForFunction(({ source }) => new RegExp(source).test(document.querySelector('#say')?.textContent ?? ''), {
    source: words.source,
  });

test('the computer shows a code; it lets one device in; used, old, and of another run it tells so', async () => {
  const computer = await device(`${serving.url}live.html`);
  await computer.getByText('Tablet or phone in the bay').click();
  const code = async () => (await computer.locator('.lan-url').textContent())!;
  const first = await code();
  await computer.locator('img.code').waitFor();
  expect(
    await computer
      .locator('img.code')
      .evaluate((image: HTMLImageElement) => image.decode().then(() => image.naturalWidth)),
  ).toBeGreaterThan(0);
  await expectAccessible(computer, 'the page');

  const tablet = await device(first);
  await tablet.waitForURL(serving.lanUrl!);
  await tablet.getByRole('link', { name: 'Live' }).click();
  await tablet.waitForFunction(() => document.querySelector('#connection')?.textContent.includes('readings are live'));
  expect(await tablet.locator('#lan').isHidden()).toBe(true);
  await computer.getByText('One device is in.').waitFor();
  const second = await code();
  expect(second).not.toBe(first);

  const late = await device(first);
  await said(late, /used already: each lets one device in\. Scan the one that the computer shows now/);
  expect(late.url()).not.toContain('#');
  await expectAccessible(late, 'the page');
  await computer.getByRole('button', { name: 'Make a new code' }).click();
  await computer.waitForFunction((old) => document.querySelector('.lan-url')!.textContent !== old, second);
  await said(await device(second), /no longer good: another one was made since/);
  await said(await device(`${serving.lanUrl!}enter`), /^Scan the code that the computer shows/);
  await said(await device(`${serving.lanUrl!}live.html`), /^Scan the code/);

  const port = Number(new URL(serving.url).port);
  await serving.close();
  serving = await start(port);
  await tablet.waitForFunction(() => document.querySelector('#connection')?.textContent.includes('was let in before'));
  await tablet.reload();
  await said(tablet, /let in before, but is no longer/);
  await said(await device(second), /no code of this run of nightdraw/);
});
