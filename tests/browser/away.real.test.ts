// The page without its server: it opens from what the browser keeps and says that nightdraw is
// not running, goes on by itself when it is, and keeps nothing of a customer: its own files alone.
import { readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { importCsv } from '../../host/capture/exchange/csv.ts';
import { setDetails } from '../../host/capture/store/edit.ts';
import { inventNight, STAIRS } from './nights.ts';
import { unfold } from './page.ts';
import { ServedStage } from './served.ts';

const WEB = new URL('../../.build/web', import.meta.url).pathname;
/** What names a customer or a car, and a job: none of it may be found in the browser. */
const SECRETS = { job: 'order 4711', plate: 'QX 4712', vehicle: 'estate 1999 grey', customer: 'Somebody Withname' };
const stage = new ServedStage('');
let page: Page;
let port: number;

beforeAll(async () => {
  const [source, capture] = [join(stage.root, 'night.csv'), join(stage.captures, 'kept-secret.nightdraw')];
  writeFileSync(source, inventNight(STAIRS).csv);
  await importCsv(source, capture, { software: 'test', created_ms: 0, job: SECRETS.job });
  setDetails(capture, SECRETS);
  await stage.launch();
  await stage.serve();
  port = stage.port;
  page = await stage.page(1280);
  await drawn();
  await page.evaluate(() => navigator.serviceWorker.ready);
  await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
}, 120_000);
afterAll(() => stage.close());

const drawn = () => page.waitForSelector('#main:not([aria-busy]) #picture [data-part="mean"]');

/** All that the browser keeps for this address. */
const kept = () =>
  page.evaluate(async () => {
    const files: Record<string, string> = {};
    for (const name of await caches.keys()) {
      const cache = await caches.open(name);
      for (const request of await cache.keys())
        files[new URL(request.url).pathname] = await (await cache.match(request))!.text();
    }
    return {
      files,
      local: { ...localStorage },
      session: { ...sessionStorage },
      databases: (await indexedDB.databases()).map(({ name }) => name),
    };
  });

test('it may be installed: name, start, and an icon of our own that is there', async () => {
  const told = JSON.parse(
    await page.evaluate(async () => {
      const link = document.querySelector<HTMLLinkElement>('link[rel="manifest"]')!;
      return (await fetch(link.href)).text();
    }),
  ) as { name: string; start_url: string; display: string; icons: { src: string; type: string; sizes: string }[] };
  expect(told).toMatchObject({ name: 'nightdraw', start_url: './', display: 'standalone' });
  const icon = await fetch(new URL(told.icons[0]!.src, stage.url));
  expect([icon.status, icon.headers.get('content-type')]).toEqual([200, told.icons[0]!.type]);
  const client = await page.context().newCDPSession(page);
  const { errors } = await client.send('Page.getAppManifest');
  expect(errors).toEqual([]);
});

test('after a session with everything opened, the browser keeps the files of the page and nothing else', async () => {
  for (const id of ['asked', 'details', 'report']) await unfold(page, id);
  await page.waitForSelector('.preview iframe:not(.coming)');
  await page.fill('#details-customer', `${SECRETS.customer} again`);
  await page.click('[data-form="details"] button');
  await page.getByText('Kept in the capture.').waitFor();
  await page.getByRole('button', { name: 'Switch to dark colours' }).click();
  for (const other of ['fleet.html', 'live.html', 'bay.html']) {
    await page.goto(stage.url + other);
    await page.waitForLoadState('load');
  }
  await page.goto(stage.url);
  await drawn();
  const { files, local, session, databases } = await kept();
  const own = readdirSync(WEB, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && entry.name !== 'worker.js')
    .map((entry) => join(entry.parentPath, entry.name).slice(WEB.length));
  expect(Object.keys(files).sort()).toEqual(['/', ...own].sort());
  // As they were built, letter by letter: nothing of a night has come into them.
  for (const name of own) expect(files[name], name).toBe(readFileSync(WEB + name, 'utf8'));
  expect(files['/']).toBe(files['/index.html']);
  expect(local).toEqual({ 'nightdraw.theme': 'dark' });
  expect([session, databases, await page.context().cookies()]).toEqual([{}, [], []]);
  const all = JSON.stringify(await kept());
  for (const secret of [...Object.values(SECRETS), 'kept-secret']) expect(all).not.toContain(secret);
});

test('without its server it opens and says so, on each of its pages; then it goes on by itself', async () => {
  await stage.kill();
  for (const path of ['', 'fleet.html']) {
    await page.goto(`http://127.0.0.1:${port}/${path}`);
    await page.waitForSelector('#message:not([hidden])');
    expect(await page.textContent('#message')).toContain('it is not running. Start it');
  }
  await page.goto(`http://127.0.0.1:${port}/live.html`);
  await page.getByText('The computer does not answer').waitFor();
  await page.goto(`http://127.0.0.1:${port}/#kept-secret.nightdraw`);
  await page.waitForSelector('#message:not([hidden])');
  expect(await page.isVisible('#desk')).toBe(false);
  await stage.serve(port);
  await drawn();
  await page.waitForSelector('#message', { state: 'hidden' });
  expect(await page.textContent('.verdict .when')).toContain(SECRETS.job);
}, 120_000);

test('nobody complained', () => {
  expect(stage.complaints).toEqual([]);
});
