// The whole work in the bay on the page, from end to end: the real server, the shipped
// firmware in the emulated board, the car whose fuses can be pulled, a real browser.
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { expectAccessible } from './axe.ts';
import { readTree } from '../../host/bay/tree/tree-build.ts';
import { readBay } from '../../host/capture/store/bay-log.ts';
import { openCapture } from '../../host/capture/read/reader.ts';
import { BRIDGE } from '../../host/emulator/car/switched.ts';
import { BayStage, doAsThePageSays, ear, headline, sayTo, TREE, untilOther } from './bay-stage.ts';

const MINUTES = 180_000;
const SPEED = 8;
const tree = readTree(readFileSync(TREE, 'utf8')).tree!;
const stage = new BayStage();
let page: Page;

/** The browser's voice stands outside: what goes to it is written down. */
const hear = () => {
  const heard: string[] = [];
  Object.assign(window, { heard });
  Object.defineProperty(window, 'speechSynthesis', {
    value: {
      getVoices: () => [{}],
      cancel: () => undefined,
      speak: (utterance: SpeechSynthesisUtterance) => {
        heard.push(utterance.text);
        utterance.dispatchEvent(new Event('end'));
      },
    },
  });
};
const heard = () => page.evaluate(() => (window as unknown as { heard: string[] }).heard);

beforeAll(async () => {
  await stage.open(SPEED);
  await stage.serve();
  page = await stage.page(1280, { init: [hear, ear] });
}, 120_000);
afterAll(() => stage.close());

/** What would make a tablet useless: a page wider than the screen, or an answer that a gloved finger misses. */
async function fits(at: Page): Promise<void> {
  expect(await at.evaluate(() => document.documentElement.scrollWidth - innerWidth)).toBeLessThanOrEqual(0);
  const heights = await at
    .locator('.answers:not([hidden]) button')
    .evaluateAll((buttons) => buttons.map((button) => button.getBoundingClientRect().height));
  expect(heights.length).toBeGreaterThan(0);
  expect(Math.min(...heights)).toBeGreaterThanOrEqual(64);
}

const WAYS = ['buttons', 'keys', 'voice'] as const;

/** Works as the page says until it shows something, by buttons, keys and voice in turn. */
async function work(until: () => Promise<boolean>): Promise<void> {
  let turn = 0;
  for (const end = Date.now() + MINUTES; !(await until());) {
    if (Date.now() > end) throw new Error(`it did not come; the page asks: ${await headline(page)}`);
    if (await doAsThePageSays(page, stage.hands, tree, WAYS[turn % WAYS.length]!)) turn++;
    else await pause(50);
  }
}

const kept = () =>
  readBay(
    join(
      stage.captures,
      readdirSync(stage.captures).find((name) => name.endsWith('.nightdraw'))!,
    ),
  )!;

test(
  'a fuse list is typed in with the keyboard alone, told of beside its rows, and kept while it is typed',
  async () => {
    await page.getByLabel('Typed in here').check();
    const row = (number: number) => page.getByRole('group', { name: `Row ${number}`, exact: true });
    await row(1).getByLabel('Box').focus();
    // Box, position, rating, type, what it feeds; after the last field a new row, in the same box.
    for (const typed of ['dash', 'F1', '10', '', 'radio, F2', 'F2', '7,5', '', 'F1', 'F3', 'ten', '', '<img>']) {
      await page.keyboard.type(typed);
      await page.keyboard.press('Enter');
    }
    await row(1).getByText('a loop: F2 feeds F1 feeds F2').waitFor();
    await row(3).getByText("the rating 'ten' of F3 is not a number of amperes").waitFor();
    await expectAccessible(page, 'the list that is typed in');
    await page.getByRole('button', { name: 'Begin the work' }).click();
    await page.getByText('The fuse list has mistakes; they stand beside its rows.').waitFor();
    // The page is closed by mistake.
    await page.reload();
    expect(await page.getByLabel('Typed in here').isChecked()).toBe(true);
    expect(await row(3).getByLabel('Feeds').inputValue()).toBe('<img>');
    await row(3).getByLabel('Rating').fill('5');
    await row(2).getByLabel('Feeds').fill('clock');
    await row(4).getByRole('button', { name: 'Remove' }).click();
    await page.getByText('3 fuses, 0 relays, 3 parts; no mistake found').waitFor();
    const saved = page.waitForEvent('download');
    await page.getByRole('button', { name: 'Keep as a CSV file' }).click();
    const file = await saved;
    expect(file.suggestedFilename()).toBe('feed-tree.csv');
    expect(
      readFileSync(await file.path(), 'utf8')
        .split('\n')
        .slice(0, 2),
    ).toEqual(['type,box,position,rating,feeds,leave alone', 'regular,dash,F1,10,"radio, F2",']);
    const heights = await page
      .locator('.list-table')
      .locator('button, select, input[type="text"], .quick')
      .evaluateAll((all) => all.map((one) => one.getBoundingClientRect().height));
    expect(Math.min(...heights)).toBeGreaterThanOrEqual(48);
    for (const width of [390, 768, 1280]) {
      await page.setViewportSize({ width, height: 900 });
      expect(await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)).toBeLessThanOrEqual(0);
    }
    // For the car of this stage a file is used.
    await page.getByLabel('Feed tree from a CSV file').check();
  },
  MINUTES,
);

test(
  'a tree with mistakes is told line by line, a good one begins the work',
  async () => {
    await expectAccessible(page, 'the page');
    await page.getByRole('button', { name: 'Begin the work' }).click();
    await page.getByText('Choose the file of the feed tree first').waitFor();
    await page.getByLabel('Feed tree, a CSV file').setInputFiles({
      name: 'car.csv',
      mimeType: 'text/csv',
      buffer: Buffer.from(
        'box,position,rating,type,feeds\ndash,F1,10,miniature,F2\ndash,F2,10,miniature,F1\ndash,F3,<img>,regular,radio\n',
      ),
    });
    await page.getByText('line 2: a loop: F2 feeds F1 feeds F2').waitFor();
    await page.getByText("line 4: the rating '<img>' of F3 is not a number of amperes").waitFor();
    // As a spreadsheet of western Europe saves it.
    await page.getByLabel('Feed tree, a CSV file').setInputFiles({
      name: 'car.csv',
      mimeType: 'text/csv',
      buffer: Buffer.from('box;position;rating;type;feeds\ndash;F1;10;miniature;"lève-vitre"\n', 'latin1'),
    });
    await page.getByText('1 fuse, 0 relays, 1 part; no mistake found').waitFor();
    await page.getByLabel('Feed tree, a CSV file').setInputFiles(TREE);
    await page.getByText('28 fuses, 1 relay, 35 parts; no mistake found').waitFor();
    await page.getByRole('button', { name: 'Look for boards' }).click();
    await page.waitForFunction(() => document.querySelector<HTMLSelectElement>('#tree-board')!.value !== '');
    await page.getByLabel('Job or complaint').fill('dead after four days');
    await page.getByRole('button', { name: 'Begin the work' }).click();
    await page.getByText('Preparing, 1 of 11').waitFor();
    expect(await page.locator('#begin').isVisible()).toBe(false);
    // Nothing of what was typed stays after that.
    expect(await page.evaluate(() => sessionStorage.length)).toBe(0);
  },
  MINUTES,
);

test(
  'prepares item by item, says what it sees of each, and reads the next thing out',
  async () => {
    await page.getByRole('button', { name: 'Say what to do: off' }).click();
    const listen = page.getByRole('button', { name: 'Listen for answers: off' });
    await listen.click();
    await page.getByText('the browser could not load English speech; it needs the network').waitFor();
    await page.evaluate(() => Object.assign(window, { network: true }));
    await listen.click();
    await page.getByRole('button', { name: 'Listen for answers: on' }).waitFor();
    for (let number = 1; number <= 11; number++) {
      await page.getByText(`Preparing, ${number} of 11`).waitFor();
      if (number === 2) {
        await fits(page);
        await expectAccessible(page, 'the page');
      }
      if (number === 7) stage.hands.put(BRIDGE, true);
      if (number === 9) {
        await pause(2000);
        stage.hands.put(BRIDGE, false);
        await pause(300);
      }
      if (number === 10)
        await page
          .locator('.sight')
          .filter({ hasText: /rose|did not wake|awake at/ })
          .waitFor();
      // Two taps at once are one, and one as the question comes was for the last: a foot switch bounces.
      await pause(300);
      const before = await headline(page);
      if (number % 2 === 0) await page.locator('[data-answer="tap"]').click();
      else await page.keyboard.press('Enter');
      await untilOther(page, before);
    }
    expect(kept().entries.filter(({ code }) => code === 'prepared')).toHaveLength(11);
    const said = await heard();
    expect(said[0]).toBe('Battery tested and charged; terminals clean and tight.');
    expect(said.slice(1, 3).join(' ')).toContain('Bonnet open, its switch held closed, not unplugged.');
  },
  MINUTES,
);

test(
  'what makes no sense now is refused in words, and evidence is taken',
  async () => {
    await page.locator('[data-answer="drop"]').waitFor({ timeout: 60_000 });
    await page.getByText('Something else was done').click();
    const did = page.locator('[data-form="did"]');
    await did.getByLabel('Fuse or part').fill('F99');
    await did.getByRole('button').click();
    await did.getByText("'F99' is no fuse or part of the tree").waitFor();
    await page.locator('[data-answer="drop"]').click();
    await page.getByText("'' is not a voltage in mV.").waitFor();
    await page.getByText('Evidence from elsewhere').click();
    // An answer that did nothing is told, since who presses looks elsewhere.
    const late = '**/recordings/*/bay';
    await page.route(late, (route) =>
      route.continue({ postData: { ...(route.request().postDataJSON() as object), answered: 9999 } }),
    );
    await page.locator('[data-answer="skip"]').click();
    await page.getByText('That was not taken: it came too soon after the last one. Press again.').waitFor();
    await page.unroute(late);
    // Talk beside the car is no answer; a voltage that was said is read back, and noted when that is said.
    const asked = await headline(page);
    await sayTo(page, 'well done everybody');
    await page.getByText('heard: “well done everybody”, no answer to this').waitFor();
    await sayTo(page, 'zero point 3 millivolts');
    expect(await page.getByLabel('Voltage read, in mV').inputValue()).toBe('0.3');
    expect((await heard()).at(-1)).toBe('0.3 millivolts. Say: note it.');
    await page.getByLabel('Voltage read, in mV').fill('');
    expect(await headline(page)).toBe(asked);
    const evidence = page.locator('[data-form="evidence"]');
    await evidence.getByLabel('Fuse or part').fill('mirror left');
    await evidence.getByLabel('What was read or seen').fill('<b>heater</b> stays warm');
    await evidence.getByRole('button').click();
    await evidence.getByText('Noted.').waitFor();
    await page.locator('.log').first().getByText('<b>heater</b> stays warm').waitFor();
    expect(kept().entries.find(({ code }) => code === 'evidence')!.text).toContain('<b>heater</b> stays warm');
  },
  MINUTES,
);

test(
  'a box of voltages is typed with Enter alone; what cannot be is told beside its field, and nothing is lost',
  async () => {
    await page.getByText('The voltages of a whole box').click();
    const form = page.locator('[data-form="drops"]');
    await form.getByLabel('Box').selectOption('boot');
    await form.getByLabel('T1').focus();
    for (const typed of ['0', '', '6930', '0,1', 'x', '0']) {
      await page.keyboard.type(typed);
      await page.keyboard.press('Enter');
    }
    // Past the last field the button has the focus, and takes the Enter.
    await page.keyboard.press('Enter');
    await form.getByText(/^T3: 6930 mV across a regular fuse of 20 A .* more than it carries/).waitFor();
    await form.getByText("'x' is not a voltage in mV", { exact: true }).waitFor();
    await form.getByText(/^2 voltages cannot be, so none of the 5 is noted/).waitFor();
    expect(await form.locator('input').evaluateAll((all) => all.map((one) => (one as HTMLInputElement).value))).toEqual(
      ['0', '', '6930', '0,1', 'x', '0'],
    );
    expect(await page.evaluate(() => document.activeElement?.getAttribute('aria-invalid'))).toBe('true');
    await expectAccessible(page, 'the table of a box');
    expect(kept().entries.filter(({ code }) => code === 'drop')).toHaveLength(0);
    await form.getByLabel('T3').fill('0');
    await form.getByLabel('T5').fill('0');
    await form.getByRole('button').click();
    await form.getByText('Noted: 5 voltages.').waitFor();
    expect(kept().entries.filter(({ code }) => code === 'drop')).toHaveLength(1);
    const heights = await form.locator('input, button').evaluateAll((all) => all.map((one) => one.clientHeight));
    expect(Math.min(...heights)).toBeGreaterThanOrEqual(46);
  },
  MINUTES,
);

test(
  'the feed tree shows what is next and what is ruled out, and opens by the keyboard alone',
  async () => {
    const tree = page.getByRole('tree', { name: 'Feed tree' });
    const row = (name: RegExp) => tree.getByRole('treeitem', { name });
    const move = /read the voltage across (?:fuse )?(\S+)/i.exec(await headline(page))![1]!;
    await row(new RegExp(`^${move}, next: read the voltage across it, \\d+ % likely`)).waitFor();
    await row(/^L3, .*maker's procedure only/).waitFor();
    expect(await row(/^airbag unit/).count()).toBe(0);
    // From the first row on: to L3, D1 is closed with the key to the left and opened with the one to the right.
    await tree.locator('[tabindex="0"]').focus();
    const at = () => page.evaluate(() => document.activeElement?.querySelector('title')?.textContent ?? '');
    for (let steps = 0; !(await at()).startsWith('D6,') && steps < 60; steps++) await page.keyboard.press('ArrowDown');
    expect(await at()).toMatch(/^D6, .*maker's procedure only/);
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('ArrowRight');
    expect(await at()).toMatch(/^airbag unit, /);
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('Enter');
    expect(await row(/^airbag unit/).count()).toBe(0);
    expect(await row(/^D6/).getAttribute('aria-expanded')).toBe('false');
    // A finger leaves no focus behind, so that the foot switch's Enter is an answer again.
    await row(/^D6/).click();
    await row(/^airbag unit/).waitFor();
    await page.waitForFunction(() => document.activeElement === document.body);
    await expectAccessible(page, 'the page with its feed tree');
  },
  MINUTES,
);

test(
  'finds the first part; the server is killed with a fuse out, comes back, and the work goes on by itself',
  async () => {
    await work(async () => (await page.locator('.named').count()) > 0);
    expect(await page.locator('.named').textContent()).toMatch(/(telematics box|mirror left)/);
    const named = page.getByRole('treeitem', { name: /^(telematics box|mirror left), .*named, \d+ mA/ });
    expect(await named.count()).toBeGreaterThan(0);
    expect(await page.getByRole('treeitem', { name: /branches ruled out/ }).count()).toBeGreaterThan(0);
    await work(
      async () =>
        (await page.locator('.out').textContent()) !== '' && (await page.locator('.answers button').count()) > 0,
    );
    await fits(page);
    await expectAccessible(page, 'the page');
    const before = {
      out: await page.locator('.out').textContent(),
      asked: await headline(page),
      entries: kept().entries.length,
    };
    const { port } = stage;
    await stage.kill('SIGKILL');
    await page.locator('.connection[data-state="lost"]').waitFor();
    expect(await page.locator('.answers button').first().isDisabled()).toBe(true);
    await stage.serve(port);
    await page.locator('.work[data-doing="live"]').waitFor({ timeout: 60_000 });
    expect(await page.locator('.out').textContent()).toBe(before.out);
    expect(kept().entries.length).toBeGreaterThanOrEqual(before.entries);
  },
  2 * MINUTES,
);

test(
  'finds the other part, has everything put back, and ends with the list',
  async () => {
    const phone = await stage.page(360, { dark: true });
    await work(async () => (await page.locator('.finished').count()) > 0);
    expect(await page.locator('.finished').textContent()).toMatch(
      /^Found: .*(telematics box 2\d\d mA, mirror left 9\d mA|mirror left 9\d mA, telematics box 2\d\d mA); the rest, \d+ mA, is within/,
    );
    await page.getByLabel('Every fuse and relay is back in its place').click();
    await page.getByText(/still out: .*; put them back first/i).waitFor();
    expect(await page.getByLabel('Every fuse and relay is back in its place').isChecked()).toBe(false);
    await work(async () => !/^(Bridge on: |Put )/.test(await headline(page)));
    expect([...stage.hands.out]).toEqual([BRIDGE]);
    await phone.locator('.finished').waitFor();
    await fits(phone);
    await expectAccessible(phone, 'the page');
    while (!(await headline(page)).startsWith('All done')) {
      const asked = await headline(page);
      await pause(300);
      await page.locator('[data-answer="tap"]').click();
      await untilOther(page, asked);
    }
    await page.locator('.answers:not([hidden])').getByRole('button', { name: 'End the recording' }).click();
    await page.locator('.work[data-doing="ended"]').waitFor();
    expect(await page.getByRole('link', { name: 'Open this recording' }).getAttribute('href')).toContain('nightdraw');
    const { entries, state } = kept();
    expect(entries.every(({ t_s }, i) => i === 0 || t_s >= entries[i - 1]!.t_s)).toBe(true);
    expect((JSON.parse(state) as { session: { named: unknown[] } }).session.named).toHaveLength(2);
    const capture = openCapture(
      join(
        stage.captures,
        readdirSync(stage.captures).find((name) => name.endsWith('.nightdraw'))!,
      ),
    );
    expect(capture.info()).toMatchObject({ state: 'finished', job: 'dead after four days' });
    capture.close();
    // The browser itself writes down each refusal: of F99, of the box of voltages, and of the tick too early.
    expect(stage.complaints.map((text) => /status of (\d+)/.exec(text)?.[1] ?? text)).toEqual(['409', '409', '409']);
  },
  2 * MINUTES,
);
