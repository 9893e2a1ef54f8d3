// The pages open, say what they should, zoom, and pass the accessibility rules. All else
// that a browser can tell stands in the .real tests beside this file.
import { afterAll, beforeAll, expect, test } from 'vitest';
import { BEFORE_CLAMPING, BEFORE_PULLING } from '../../host/say/cautions.ts';
import { expectAccessible } from './axe.ts';
import { inventNight, STAIRS } from './nights.ts';
import { setStage, settled } from './page.ts';
import type { Stage } from './page.ts';

let stage: Stage;
beforeAll(async () => {
  stage = await setStage({ 'stairs.csv': inventNight(STAIRS).csv });
});
afterAll(() => stage.close());

test('a night: verdict, labels, zoom', async () => {
  const page = await stage.open('stairs.csv', 1280);
  expect(await page.textContent('#verdict')).toContain('19');
  expect(await page.$$eval('#meaning .caution li', (items) => items.map((item) => item.textContent))).toEqual(
    BEFORE_PULLING,
  );
  const labels = () =>
    page.$$eval('#picture [data-label]', (list) => list.map((label) => label.getAttribute('data-label')));
  const ticks = () => page.$$eval('#picture [data-tick="time"]', (list) => list.map((tick) => tick.textContent));
  expect(await labels()).toEqual(expect.arrayContaining(['step', 'asleep', 'allowance']));
  const before = await ticks();
  await page.focus('#picture');
  for (let i = 0; i < 3; i++) await page.keyboard.press('+');
  await settled(page);
  expect(await ticks()).not.toEqual(before);
  await expectAccessible(page, 'the night');
  await page.context().close();
});

test('fleet.html: the car, its verdict, and the way to its night', async () => {
  const page = await (await stage.browser.newContext()).newPage();
  await page.goto(`${stage.serving.url}fleet.html`);
  await page.getByText('1 car, 1 night').waitFor();
  expect(await page.textContent('.cars .verdict-tag')).toBe('Too many wake-ups');
  await expectAccessible(page, 'fleet.html');
  await page.click('.cars h2 a');
  await page.waitForSelector('#picture [data-part="mean"]');
  await page.context().close();
});

test.each([
  ['live.html', 'Look for boards'],
  ['bay.html', null],
])('%s opens', async (path, button) => {
  const page = await (await stage.browser.newContext()).newPage();
  await page.goto(stage.serving.url + path);
  await page.waitForSelector('h1');
  expect(await page.$$eval('#cautions li', (items) => items.map((item) => item.textContent))).toEqual(BEFORE_CLAMPING);
  if (button !== null) await page.getByRole('button', { name: button }).waitFor();
  await expectAccessible(page, path);
  await page.context().close();
});

test('prove.html opens, and names the way to the boards', async () => {
  const page = await (await stage.browser.newContext()).newPage();
  await page.goto(`${stage.serving.url}prove.html`);
  await page.getByText('Choose the board first').waitFor();
  await expectAccessible(page, 'prove.html');
  await page.context().close();
});

test('nobody complained', () => {
  expect(stage.complaints).toEqual([]);
});
