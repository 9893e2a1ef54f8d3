// The real page in a real browser, from the real server: that the night is drawn, its
// labels are right and keep apart, and that every way of moving moves it.
import { appendFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { estimateText } from '../../web/chart/text.ts';
import { inventNight, RESTLESS, STAIRS, STEADY } from './nights.ts';
import { setStage, settled } from './page.ts';
import type { Stage } from './page.ts';

const HOSTILE = '<img src=x onerror=alert(1)> & "quoted" ‘name’';
const WIDTHS = [360, 1280, 2560];

let stage: Stage;
beforeAll(async () => {
  stage = await setStage({
    'stairs.csv': inventNight(STAIRS).csv,
    'steady.csv': inventNight(STEADY).csv,
    'restless.csv': inventNight(RESTLESS).csv,
    [`${HOSTILE}.nightdraw`]: {
      csv: inventNight({ ...STEADY, hours: 1.2 }).csv,
      job: `job ${HOSTILE}</p><script>alert(2)</script>`,
    },
    'broken.csv': 'no,known,column\n1,2,3\n',
  });
}, 120_000);
afterAll(async () => stage.close());

interface Geometry {
  plot: DOMRect;
  labels: { what: string; text: string; rect: DOMRect; ink: DOMRect }[];
}

function geometry(page: Page): Promise<Geometry> {
  return page.evaluate(() => {
    const rect = (element: Element) => element.getBoundingClientRect().toJSON() as DOMRect;
    return {
      plot: rect(document.querySelector('#picture [data-part="plot"]')!),
      labels: [...document.querySelectorAll('#picture [data-label]')].map((label) => ({
        what: label.getAttribute('data-label')!,
        text: label.textContent,
        rect: rect(label),
        ink: rect(label.querySelector('text')!),
      })),
    };
  });
}

/** Both the boxes and the letters as the browser sets them. */
function expectApart({ plot, labels }: Geometry): void {
  labels.forEach(({ text, rect, ink }, i) => {
    for (const [name, box] of [
      ['box', rect],
      ['text', ink],
    ] as const) {
      const out = Math.max(plot.left - box.left, plot.top - box.top, box.right - plot.right, box.bottom - plot.bottom);
      expect(out, `${name} of '${text}' leaves the plot`).toBeLessThanOrEqual(0.1);
    }
    for (const other of labels.slice(i + 1)) {
      const apart =
        rect.right <= other.rect.left ||
        other.rect.right <= rect.left ||
        rect.bottom <= other.rect.top ||
        other.rect.bottom <= rect.top;
      expect(apart, `'${text}' lies over '${other.text}'`).toBe(true);
    }
  });
}

const ticks = (page: Page) =>
  page.$$eval('#picture [data-tick="time"]', (list) => list.map((tick) => tick.textContent));
const windowOf = (page: Page) =>
  page.$$eval('.grip', (grips) => grips.map((grip) => Number(grip.getAttribute('aria-valuenow'))));
const STEPS = ['\u22121.9 A → 900 mA', '\u2212480 mA → 420 mA', '\u2212240 mA → 180 mA', '\u2212161 mA → 19 mA'];

describe('the picture', () => {
  test.each(WIDTHS)(
    'at %i px: every step is labelled, labels keep apart, nothing is wider than the window',
    async (width) => {
      const page = await stage.open('stairs.csv', width);
      const drawn = await geometry(page);
      expect(
        drawn.labels
          .filter((l) => l.what === 'step')
          .map((l) => l.text)
          .sort(),
      ).toEqual([...STEPS].sort());
      expect(drawn.labels.map((l) => l.what)).toEqual(expect.arrayContaining(['asleep', 'allowance']));
      expectApart(drawn);
      expect(await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)).toBeLessThanOrEqual(0);
      expect(await ticks(page)).toContain('00:00');
      expect(await page.textContent('#picture [data-part="time-axis"]')).toContain('Wed 25 Nov');
      await page.context().close();
    },
  );

  test.each(WIDTHS)('at %i px: labels keep apart at every zoom, on both scales', async (width) => {
    const page = await stage.open('stairs.csv', width);
    await page.focus('#picture');
    for (const scale of ['linear', 'log']) {
      await page.check(`input[value="${scale}"]`);
      await page.focus('#picture');
      for (const keys of [
        ['+', '+', '+'],
        ['Shift+ArrowLeft', 'Shift+ArrowLeft'],
        ['+', '+'],
        ['Home'],
        ['-', '-'],
        ['End'],
        ['0'],
      ]) {
        for (const key of keys) await page.keyboard.press(key);
        await settled(page);
        expectApart(await geometry(page));
      }
    }
    await page.context().close();
  });

  test.each([360, 1280])(
    'at %i px: ten thousand wake-ups are folded, labels keep apart at every zoom',
    async (width) => {
      const page = await stage.open('restless.csv', width);
      expectApart(await geometry(page));
      expect(await page.textContent('#picture [data-title="rail"]')).toMatch(
        /^Family \d+: 10\u00a0000 wake-ups, every 36 s/,
      );
      expect(await page.$$eval('#events > li', (list) => list.length)).toBeLessThan(20);
      expect(await page.$$eval('#picture *', (list) => list.length)).toBeLessThan(600);
      await page.focus('#picture');
      for (const key of ['+', '+', '+', '+', '+', '+', '+', '+', '+', '+']) {
        await page.keyboard.press(key);
        await settled(page);
        expectApart(await geometry(page));
      }
      await page.context().close();
    },
  );

  test("the estimate of text widths that serves without a page is never narrower than the browser's", async () => {
    const page = await stage.open('steady.csv', 1280);
    const texts = [
      ...STEPS,
      'asleep level 19 mA from 22:30',
      'allowance 50 mA',
      'no readings for 12 min',
      '48 s, peak 2.0 A',
      'Family 1: 15 wake-ups, every 34 min',
      '88 more in a closer view',
    ];
    for (const bold of [false, true]) {
      const widths = await page.evaluate(
        ({ texts, bold }) => {
          const context = document.createElement('canvas').getContext('2d')!;
          context.font = `${bold ? 600 : 400} 12px ${getComputedStyle(document.documentElement).fontFamily}`;
          return texts.map((text) => context.measureText(text).width);
        },
        { texts, bold },
      );
      texts.forEach((text, i) => expect(estimateText(text, 12, bold), text).toBeGreaterThanOrEqual(widths[i]!));
    }
    await page.context().close();
  });
});

describe('moving', () => {
  test('wheel, drag, buttons and strip each change the time axis', async () => {
    const page = await stage.open('stairs.csv', 1280);
    const night = await windowOf(page);
    const box = (await (await page.$('#picture'))!.boundingBox())!;
    await page.mouse.move(box.x + 600, box.y + 200);
    for (let i = 0; i < 4; i++) await page.mouse.wheel(0, -300);
    await settled(page);
    const wheeled = await windowOf(page);
    expect(wheeled[1]! - wheeled[0]!).toBeLessThan((night[1]! - night[0]!) / 2);
    const before = await ticks(page);
    await page.mouse.down();
    await page.mouse.move(box.x + 400, box.y + 210, { steps: 5 });
    await page.mouse.up();
    await settled(page);
    const dragged = await windowOf(page);
    expect(dragged[0]!).toBeGreaterThan(wheeled[0]!);
    expect(dragged[1]! - dragged[0]!).toBeCloseTo(wheeled[1]! - wheeled[0]!, -1);
    expect(await ticks(page)).not.toEqual(before);
    await page.getByRole('button', { name: 'Earlier' }).click();
    await settled(page);
    expect((await windowOf(page))[0]!).toBeLessThan(dragged[0]!);
    await page.locator('#strip').scrollIntoViewIfNeeded();
    const strip = (await (await page.$('#strip'))!.boundingBox())!;
    await page.mouse.click(strip.x + strip.width * 0.9, strip.y + 20);
    await settled(page);
    expect((await windowOf(page))[1]!).toBeGreaterThan(0.85 * 9 * 3600);
    await page.getByRole('button', { name: 'Whole night' }).click();
    await settled(page);
    expect(await windowOf(page)).toEqual(night);
    await page.context().close();
  });

  test('two fingers pinch', async () => {
    const page = await stage.open('stairs.csv', 1280, { touch: true });
    const night = await windowOf(page);
    const box = (await (await page.$('#picture'))!.boundingBox())!;
    const client = await page.context().newCDPSession(page);
    const touch = (type: string, ...xs: number[]) =>
      client.send('Input.dispatchTouchEvent', {
        type: type as 'touchStart',
        touchPoints: xs.map((x, id) => ({ x: box.x + x, y: box.y + 200, id })),
      });
    await touch('touchStart', 450, 550);
    for (const out of [20, 60, 100, 150]) await touch('touchMove', 450 - out, 550 + out);
    await touch('touchEnd');
    await settled(page);
    const pinched = await windowOf(page);
    // 100 px between the fingers became 400.
    expect((pinched[1]! - pinched[0]!) / (night[1]! - night[0]!)).toBeCloseTo(0.25, 1);
    await page.context().close();
  });

  test('an entry of the list moves the picture; a mark in the picture shows its entry', async () => {
    const page = await stage.open('stairs.csv', 1280);
    await page.getByRole('button', { name: /02:46 Wake-up, 10 min/ }).click();
    await settled(page);
    const [from, to] = (await windowOf(page)) as [number, number];
    expect(from).toBeLessThan(16_900);
    expect(to).toBeGreaterThan(17_500);
    expect(to - from).toBeLessThan(2 * 3600);
    expect(await page.$('#picture [data-part="selected"]')).not.toBeNull();
    await page.getByRole('button', { name: 'Whole night' }).click();
    await settled(page);
    await page.click('#picture [data-label="step"][data-event="step-2"]');
    await settled(page);
    expect(await page.textContent('#events li.selected .title')).toBe(STEPS[2]);
    expect(await page.getAttribute('#events li.selected button.go', 'aria-current')).toBe('true');
    const marks = await page.$$('#picture [data-part="rail"] [data-event]');
    await marks[4]!.click();
    await settled(page);
    expect(await page.textContent('#events li.selected .where')).toBe('5 of 15');
    await page.getByRole('button', { name: 'Next wake-up' }).click();
    await settled(page);
    expect(await page.textContent('#events li.selected .where')).toBe('6 of 15');
    expect((await windowOf(page))[0]!).toBeGreaterThan(10_000);
    await page.context().close();
  });

  test('with the keyboard alone: open another night, read values, go through events, move the grips', async () => {
    const page = await stage.open('stairs.csv', 1280);
    const tabTo = async (selector: string) => {
      for (let i = 0; i < 60; i++) {
        await page.keyboard.press('Tab');
        if (await page.evaluate((wanted) => document.activeElement?.matches(wanted), selector)) return;
      }
      throw new Error(`Tab never reaches ${selector}`);
    };
    await tabTo('#picture');
    await page.keyboard.press('ArrowRight');
    await settled(page);
    const first = await page.textContent('#reading');
    expect(first).toMatch(/^Wed 25 Nov, \d\d:\d\d:\d\d: \d+(\.\d+)? m?A \(/);
    await page.keyboard.press('ArrowRight');
    await settled(page);
    expect(await page.textContent('#reading')).not.toBe(first);
    await page.keyboard.press('PageDown');
    await settled(page);
    expect(await page.textContent('#events li.selected .title')).toBe(STEPS[0]);
    await tabTo('.grip[data-end="to"]');
    const before = await windowOf(page);
    await page.keyboard.press('PageUp');
    await settled(page);
    expect((await windowOf(page))[1]!).toBe(before[1]! + 3240);
    await page.evaluate(() => (document.activeElement as HTMLElement).blur());
    await tabTo('.shelf summary');
    await page.keyboard.press('Enter');
    await tabTo('.shelf a[href="#steady.csv"]');
    await page.keyboard.press('Enter');
    await page.waitForFunction(() => document.querySelector('#verdict-sentence')?.textContent.includes('320'));
    expect(await page.title()).toContain('steady');
    await page.context().close();
  });
});

/** Words outside the picture that are in sight without scrolling. */
const wordsInSight = (page: Page) =>
  page.evaluate(() => {
    let words = 0;
    const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    for (let text = texts.nextNode(); text !== null; text = texts.nextNode()) {
      const owner = text.parentElement!;
      if (!owner.checkVisibility() || owner.closest('svg, .unseen') !== null) continue;
      const range = document.createRange();
      range.selectNodeContents(text);
      const inSight = [...range.getClientRects()].some(
        (box) => box.width > 0 && box.bottom > 0 && box.top < innerHeight && box.right > 0,
      );
      const list = owner.closest('#events')?.getBoundingClientRect().bottom ?? Infinity;
      if (inSight && range.getBoundingClientRect().top < list)
        words += text.textContent!.split(/\s+/).filter((word) => word !== '').length;
    }
    return words;
  });

describe('the first screen', () => {
  test.each([
    [390, 844, 100],
    [1280, 800, 180],
  ])(
    'at %i by %i px: verdict, both figures and the whole picture, in at most %i words',
    async (width, height, most) => {
      const page = await stage.open('stairs.csv', width, { height_px: height });
      const words = await wordsInSight(page);
      console.log(`      (${words} words in sight at ${width} by ${height} px)`);
      expect(words).toBeGreaterThan(25);
      expect(words).toBeLessThanOrEqual(most);
      for (const selector of ['#verdict-sentence', '.verdict .facts', '#picture']) {
        const box = (await page.locator(selector).boundingBox())!;
        expect(box.y + box.height, selector).toBeLessThanOrEqual(height);
      }
      expect(await page.$$eval('.verdict .facts svg [data-part]', (parts) => parts.length)).toBe(3);
      // Nothing is gone: every form is one press away, by a finger too.
      expect(
        await page.$$eval('main > section > details:not([open]) > summary h2', (all) => all.map((h) => h.textContent)),
      ).toEqual(['What you know of this car', 'Before and after a repair', 'The job', 'Report for the job file']);
      const low = await page.$$eval('button, summary, .top a, select, input:not([type="radio"])', (all) =>
        all
          .filter((e) => e.checkVisibility())
          .filter((e) => e.getBoundingClientRect().height < 48 || (e.matches('button') && e.clientWidth < 46))
          .map((e) => e.outerHTML),
      );
      expect(low).toEqual([]);
      await page.context().close();
    },
  );
});

describe('around the picture', () => {
  test('the verdict is the first heading, then facts with units and the bill', async () => {
    const page = await stage.open('stairs.csv', 1280);
    expect(await page.textContent('h1')).toMatch(/19\sm?A/);
    expect(await page.textContent('.verdict .facts')).toMatch(/Asleep level19 mA.*allowance\s50\smA.*Wake-ups16/);
    const shares = await page.$$eval('.bill li .share', (list) => list.map((share) => parseInt(share.textContent, 10)));
    // Rounded as the table below rounds its lines, which add up.
    expect(shares.reduce((a, b) => a + b)).toBe(100);
    await page.context().close();
  });

  test('landmarks, one main heading, names for all controls', async () => {
    const page = await stage.open('stairs.csv', 1280);
    const found = await page.evaluate(() => ({
      landmarks: ['header', 'nav[aria-label="Captures"]', 'nav[aria-label="Pages"]', 'main'].map(
        (selector) => document.querySelectorAll(selector).length,
      ),
      headings: [...document.querySelectorAll('h1')].length,
      lang: document.documentElement.lang,
      nameless: [...document.querySelectorAll('button, a, input, [role="slider"], [tabindex="0"]')]
        .filter(
          (e) =>
            (e.getAttribute('aria-label') ?? e.textContent ?? '').trim() === '' &&
            ((e as HTMLInputElement).labels ?? []).length === 0,
        )
        .map((e) => e.outerHTML),
      doubleIds: [...document.querySelectorAll('[id]')].map((e) => e.id).filter((id, i, all) => all.indexOf(id) !== i),
    }));
    expect(found).toEqual({ landmarks: [1, 1, 1, 1], headings: 1, lang: 'en', nameless: [], doubleIds: [] });
    await page.context().close();
  });

  test('dark where the machine asks for it, and at a click; the choice is kept', async () => {
    const page = await stage.open('stairs.csv', 1280, { dark: true });
    const paper = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor);
    const dark = await paper();
    await page.getByRole('button', { name: 'Switch to light colours' }).click();
    await settled(page);
    const light = await paper();
    expect(light).not.toBe(dark);
    await page.reload();
    await page.waitForSelector('#picture [data-part="mean"]');
    expect(await paper()).toBe(light);
    await page.context().close();
  });

  test('a hostile name and a hostile job stay text', async () => {
    const page = await stage.open(`${HOSTILE}.nightdraw`, 1280);
    page.on('dialog', () => stage.complaints.push('a script of the file ran'));
    expect(await page.textContent('.shelf summary .open')).toBe(HOSTILE);
    expect(await page.textContent('.verdict .when')).toContain(`job ${HOSTILE}</p><script>alert(2)</script>`);
    await page.click('#about summary');
    expect(await page.textContent('#about dl')).toContain(`file${HOSTILE}.nightdraw`);
    await page.waitForFunction(
      (job) => [...document.querySelectorAll('.shelf li .more')].some((e) => e.textContent.startsWith(job)),
      `job ${HOSTILE}`,
    );
    expect(await page.$$('img, body script:not([src])')).toEqual([]);
    await page.context().close();
  });

  test('a file that cannot be read is told in words', async () => {
    const heard = stage.complaints.length;
    const page = await stage.browser.newPage();
    await page.goto(`${stage.serving.url}#broken.csv`);
    await page.waitForSelector('#message:not([hidden])');
    expect(await page.textContent('#message')).toMatch(/^broken\.csv has no known column/);
    expect(await page.isVisible('#desk')).toBe(false);
    await page.goto(`${stage.serving.url}#steady.csv`);
    await page.waitForSelector('#picture [data-part="mean"]');
    expect(await page.isVisible('#message')).toBe(false);
    await page.close();
    stage.complaints.length = heard;
  });
});

test('a night that is still being written grows in the page; window, selection and list keep their place', async () => {
  const rows = inventNight(STAIRS).csv.split('\n');
  const path = join(stage.captures, 'growing.csv');
  writeFileSync(path, rows.slice(0, 3 * 3600).join('\n') + '\n');
  const page = await stage.open('growing.csv', 1280);
  await page.click('#events li[data-id="step-1"] button.go');
  await settled(page);
  const before = await windowOf(page);
  const end = () => page.$eval('.grip[data-end="to"]', (grip) => Number(grip.getAttribute('aria-valuemax')));
  const short_s = await end();
  appendFileSync(path, rows.slice(3 * 3600, 5 * 3600).join('\n') + '\n');
  await page.waitForFunction(
    (old_s) => Number(document.querySelector('.grip')!.getAttribute('aria-valuemax')) > old_s,
    short_s,
  );
  await settled(page);
  expect(await end()).toBe(short_s + 7200);
  expect(await windowOf(page)).toEqual(before);
  expect(await page.getAttribute('#events li.selected', 'data-id')).toBe('step-1');
  await page.getByRole('button', { name: 'Whole night' }).click();
  await settled(page);
  expect((await windowOf(page))[1]).toBe(short_s + 7200);
  // Written to faster than the list is asked for, it grows all the same, and the whole stays in view.
  let next = 5 * 3600;
  const writing = setInterval(() => {
    appendFileSync(path, rows.slice(next, next + 60).join('\n') + '\n');
    next += 60;
  }, 300);
  try {
    await page.waitForFunction(
      (old_s) =>
        [...document.querySelectorAll('.grip')].every((grip) => Number(grip.getAttribute('aria-valuemax')) > old_s),
      short_s + 7200,
    );
  } finally {
    clearInterval(writing);
  }
  await settled(page);
  expect((await windowOf(page))[1]).toBe(await end());
  await page.context().close();
});

test('nothing was complained of: no error, no refused script or style, no fault of the server', () => {
  expect(stage.complaints).toEqual([]);
});
