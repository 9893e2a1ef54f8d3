// The live page in a real browser, on the real server, with the shipped firmware in
// emulated boards behind real pseudo-terminals.
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openCapture } from '../../host/capture/read/reader.ts';
import { expectAccessible } from './axe.ts';
import { findBoards, LiveStage, switchedCar } from './live-stage.ts';

const HOSTILE = '<img src=x onerror="window.hit=1"><script>window.hit=1</script>&lt;"\'';
const stage = new LiveStage();

beforeAll(async () => {
  await stage.open([switchedCar(640, 180), switchedCar(2400, 24)]);
  await stage.serve();
}, 120_000);
afterAll(() => stage.close());

async function end(page: Page, n: number): Promise<void> {
  await stage.panel(page, n).getByRole('button', { name: 'End recording' }).click();
  await stage.panel(page, n).getByRole('button', { name: 'Yes, end it' }).click();
  await stage.untilDoing(page, n, 'ended');
}

test('a recording is begun, followed, heard, marked, ended, and its night opened', async () => {
  const page = await stage.page(1280, {
    init: [
      () => {
        const heard = { pitches_Hz: [] as number[], said: [] as string[] };
        Object.assign(window, { heard });
        // The loudspeaker is outside: what goes to it is written down.
        AudioParam.prototype.setTargetAtTime = function (value) {
          if (value > 50) heard.pitches_Hz.push(value);
          return this;
        };
        const speech = {
          getVoices: () => [{}],
          cancel: () => undefined,
          speak: ({ text }: { text: string }) => heard.said.push(text),
        };
        Object.defineProperty(window, 'speechSynthesis', { value: speech });
      },
    ],
  });
  await findBoards(page, 2);
  await stage.begin(page, 0, {
    'Job or complaint': HOSTILE,
    'Number plate': HOSTILE.slice(0, 40),
    Vehicle: HOSTILE,
    Customer: HOSTILE,
  });
  const panel = stage.panel(page, 0);
  expect(await panel.locator('.job').textContent()).toBe(HOSTILE);
  await panel.getByRole('button', { name: 'Tone: off' }).click();
  await panel.getByRole('button', { name: 'Say steps: off' }).click();
  expect(await panel.getByRole('button', { name: 'Tone: on' }).getAttribute('aria-pressed')).toBe('true');
  // How late it is, the bench tells; that what is painted was on the wire, this.
  expect((await stage.lags_ms(page, 0, 100))[0]).toBeGreaterThan(0);

  const inks = await panel.locator('canvas').evaluate((canvas: HTMLCanvasElement) => {
    const { data, width, height } = canvas
      .getContext('2d')!
      .getImageData(canvas.width - 16 * devicePixelRatio, 0, 4, canvas.height);
    return Array.from(
      { length: width * height },
      (_, i) => `${data[4 * i]} ${data[4 * i + 1]} ${data[4 * i + 2]}`,
    ).filter((ink) => ink === '59 85 168').length;
  });
  expect(inks, 'the mean reaches the right edge in its own colour').toBeGreaterThan(0);
  await panel.locator('.said li').first().waitFor();
  expect(await panel.locator('.said li').first().textContent()).toMatch(/(−460 mA, now 180 mA|\+460 mA, now 640 mA)/);
  expect(await panel.locator('.said').getAttribute('aria-live')).toBe('polite');
  const heard = await page.evaluate(
    () => (window as unknown as { heard: { pitches_Hz: number[]; said: string[] } }).heard,
  );
  // 110 Hz times 2 to the 1.25 per decade of 1 + mA, by hand.
  expect(heard.pitches_Hz.map(Math.round)).toEqual(expect.arrayContaining([778]));
  expect(Math.max(...heard.pitches_Hz)).toBeGreaterThan(1.5 * Math.min(...heard.pitches_Hz));
  expect(heard.said).toEqual(
    expect.arrayContaining([
      expect.stringMatching(/^(Down 460 milliamps\. Now 180 milliamps\.|Up 460 milliamps\. Now 640 milliamps\.)$/),
    ]),
  );
  expect(await panel.locator('.figure').textContent()).toMatch(/^(640|180|\d{3})mA$/);

  await panel.getByRole('button', { name: 'Mark this moment' }).click();
  await panel.getByLabel('What happened at').fill(`pulled 12 ${HOSTILE}`);
  await panel.getByRole('button', { name: 'Keep mark' }).click();
  await panel.locator('.marks li').waitFor();
  expect(await panel.locator('.marks .text').textContent()).toBe(`pulled 12 ${HOSTILE}`);
  const facts = await panel.locator('.live-facts').textContent();
  expect(facts).toMatch(
    /Elapsed\d.*Battery12\.\d\d V.*up to \d\d:\d\d:\d\d.*Room left for.*(days|h|min).*Linegood0 lines lost, none damaged/,
  );
  await end(page, 0);
  const { kept, sent } = stage.keptAndSent(0);
  expect(kept).toEqual(sent.map(({ window }) => window.seq));
  await panel.getByRole('link', { name: 'Open the night' }).click();
  await page.waitForSelector('#picture [data-part="mean"]');
  expect(await page.textContent('#picture')).toContain('pulled 12');
  expect(await page.evaluate(() => (window as unknown as { hit?: number }).hit)).toBeUndefined();
  expect(stage.complaints).toEqual([]);
  await page.context().close();
});

test('with the keyboard alone', async () => {
  const page = await stage.page(1280);
  const onto = async (name: RegExp) => {
    for (let i = 0; i < 60; i++) {
      await page.keyboard.press('Tab');
      if (
        await page.evaluate((source) => new RegExp(source).test(document.activeElement?.textContent ?? ''), name.source)
      )
        return;
    }
    throw new Error(`Tab does not come to ${name.source}`);
  };
  await onto(/^Look for boards/);
  await page.keyboard.press('Enter');
  await page.waitForFunction(() => document.querySelectorAll('.found form').length === 2);
  await onto(/^Start recording/);
  await page.keyboard.press('Enter');
  await stage.nameOf(page, 0);
  await page.reload();
  await stage.untilDoing(page, 0, 'live');
  await onto(/^Mark this moment/);
  await page.keyboard.press('Space');
  await page.keyboard.type('not kept');
  await page.keyboard.press('Escape');
  await page.keyboard.press('Enter');
  await page.keyboard.type('door opened');
  await page.keyboard.press('Enter');
  await stage.panel(page, 0).locator('.marks li').waitFor();
  expect(await stage.panel(page, 0).locator('.marks .text').allTextContents()).toEqual(['door opened']);
  await onto(/^Delete/);
  await page.keyboard.press('Enter');
  await stage.panel(page, 0).locator('.marks li').waitFor({ state: 'detached' });
  await onto(/^End recording/);
  await page.keyboard.press('Enter');
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  expect(await stage.panel(page, 0).getAttribute('data-doing')).toBe('live');
  await page.keyboard.press('Enter');
  await page.keyboard.press('Enter');
  await stage.untilDoing(page, 0, 'ended');
  await page.context().close();
});

test('two boards side by side; the server is killed and comes again while the page is open', async () => {
  const page = await stage.page(1280);
  await findBoards(page, 2);
  await stage.begin(page, 0);
  await stage.begin(page, 1, { 'Job or complaint': 'second' });
  const [left, right] = [(await stage.panel(page, 0).boundingBox())!, (await stage.panel(page, 1).boundingBox())!];
  expect(right.x).toBeGreaterThanOrEqual(left.x + left.width);
  await page.waitForFunction(() =>
    [...document.querySelectorAll('.live-board:not([data-doing="ended"]) .live-facts')].every((facts) =>
      facts.textContent.includes('up to'),
    ),
  );
  const port = stage.port;
  await stage.kill();
  await stage.untilDoing(page, 0, 'cut');
  await stage.untilDoing(page, 1, 'cut');
  await page.locator('#connection[data-state="lost"]').waitFor();
  expect(await page.textContent('#connection')).toMatch(/does not answer.*out of date.*tries again by itself/);
  expect(await stage.panel(page, 0).locator('.figure').textContent()).toBe('no reading');
  await expectAccessible(page, 'the page');
  await stage.serve(port);
  await stage.untilDoing(page, 0, 'live');
  await stage.untilDoing(page, 1, 'live');
  expect(await page.textContent('#connection')).toContain('readings are live');
  await end(page, 0);
  await end(page, 1);
  for (const n of [0, 1]) {
    const { kept } = stage.keptAndSent(n);
    expect(kept).toEqual([...new Set(kept)].sort((a, b) => a - b));
    const capture = openCapture(join(stage.captures, stage.names[n]!));
    expect(capture.info()).toMatchObject({ state: 'finished' });
    capture.close();
  }
  await page.context().close();
});

test('a cable out is told in words; after that, and after a tablet slept, the page is live again', async () => {
  const page = await stage.page(1280);
  await findBoards(page, 2);
  await stage.begin(page, 0);
  stage.boards[0]!.unplug();
  await stage.untilDoing(page, 0, 'silent');
  expect(await stage.panel(page, 0).locator('.doing').textContent()).toBe('Board is silent');
  expect(await stage.panel(page, 0).locator('.doing-more').textContent()).toMatch(
    /Nothing came from the board for \d+ s\. Look at its cable/,
  );
  await expectAccessible(page, 'the page');
  stage.boards[0]!.plug();
  await stage.untilDoing(page, 0, 'live');
  // Asleep: its timers and its connection stand still. Then it wakes.
  const session = await page.context().newCDPSession(page);
  const drawn = () =>
    stage
      .panel(page, 0)
      .locator('canvas')
      .evaluate((canvas: HTMLCanvasElement) => Number(canvas.dataset['drawnTo']));
  const before_s = await drawn();
  await session.send('Page.setWebLifecycleState', { state: 'frozen' });
  await new Promise((resolve) => setTimeout(resolve, 2500));
  await session.send('Page.setWebLifecycleState', { state: 'active' });
  await page.waitForFunction(
    (least_s) => [...document.querySelectorAll('canvas')].some((canvas) => Number(canvas.dataset['drawnTo']) > least_s),
    before_s + 2.5,
  );
  await stage.untilDoing(page, 0, 'live');
  await end(page, 0);
  await page.context().close();
});

test.each([
  [360, true],
  [1280, false],
  [2560, true],
])('at %i px, dark %s: read from three metres, nothing too wide, axe-core finds nothing', async (width_px, dark) => {
  const page = await stage.page(width_px, { dark, height_px: width_px === 360 ? 780 : 1000 });
  if ((await page.locator('.live-board[data-doing="live"]').count()) === 0) {
    await findBoards(page, 2);
    await stage.begin(page, 0, { 'Job or complaint': 'x'.repeat(200) });
  }
  await stage.nameOf(page, 0);
  const digit_px = await stage
    .panel(page, 0)
    .locator('.number')
    .evaluate((element) => {
      const pen = document.createElement('canvas').getContext('2d')!;
      const { fontSize, fontFamily } = getComputedStyle(element);
      pen.font = `${fontSize} ${fontFamily}`;
      return pen.measureText('8').actualBoundingBoxAscent;
    });
  // 16 minutes of arc at 3 m are 53 px, 20 are 66 (NUREG-0700 rev. 2, 1.3.1-4: h = 6.283 D MA / 21600; 96 px to the
  // inch).
  const least_px = ((6.283 * 3000 * (width_px === 360 ? 16 : 20)) / 21600 / 25.4) * 96;
  expect(digit_px).toBeGreaterThanOrEqual(least_px);
  const wide = await page.evaluate(() => ({
    page: document.documentElement.scrollWidth - innerWidth,
    figures: [...document.querySelectorAll('.figure')].map((figure) => figure.scrollWidth - figure.clientWidth),
  }));
  expect(wide.page).toBeLessThanOrEqual(0);
  expect(Math.max(...wide.figures)).toBeLessThanOrEqual(0);
  await expectAccessible(page, 'the page');
  await page.context().close();
});
