// A whole job without a terminal: a night recorded from the live page, its morning, the search in
// the bay with two faults, the repair, a second night, the proof, the report in the job folder.
// What the report's PDF says is what the page said. Once on a wide screen with the fuse list from
// a file, once on a telephone with the list typed in; the real server, the shipped firmware in
// the emulated board, a real browser.
import { readFileSync } from 'node:fs';
import { setTimeout as pause } from 'node:timers/promises';
import type { Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { expectAccessible } from './axe.ts';
import { readTree } from '../../host/bay/tree/tree-build.ts';
import type { FeedTree } from '../../host/bay/tree/tree.ts';
import { BRIDGE } from '../../host/emulator/car/switched.ts';
import { doAsThePageSays, headline, press, TREE, untilOther } from './bay-stage.ts';
import { JobStage, letters, SPEED } from './job-stage.ts';
import { unfold } from './page.ts';

const MINUTES = 180_000;
const FAULTS = ['telematics box', 'mirror left'];
const HOUR_s = 3600;
const tree = readTree(readFileSync(TREE, 'utf8')).tree!;
const stage = new JobStage();
let page: Page;
/** What the page said, to be found in the PDF. */
const said = { before: '', parts: [] as string[], proof: '', after: '' };
const names = { before: '', work: '', after: '' };

beforeAll(async () => {
  await stage.open(SPEED);
  await stage.serve();
  page = await stage.page(1280, { path: 'live.html' });
}, 120_000);
afterAll(() => stage.close());

const openNight = async (at: Page, name: string) => {
  await at.goto(`${stage.url}#${encodeURIComponent(name)}`);
  await at.waitForSelector('#main:not([aria-busy])');
};
const verdict = (at: Page) => at.locator('#verdict-sentence').innerText();
const wide = (at: Page) => at.evaluate(() => document.documentElement.scrollWidth - innerWidth);

/** What the page says of the parts in the bay, the largest draw first. */
const partsOn = async (at: Page) => (await at.locator('#bay .bay-parts li').allInnerTexts()).sort();

async function prepare(at: Page): Promise<void> {
  for (let number = 1; number <= 11; number++) {
    await at.getByText(`Preparing, ${number} of 11`).waitFor();
    if (number === 7 || number === 9) stage.hands.put(BRIDGE, number === 7);
    // So that it is no bounce of the one before.
    await pause(300);
    const before = await headline(at);
    await press(at.locator('[data-answer="tap"]'));
    await untilOther(at, before);
  }
}

/** Searches as the page says until both parts are named, puts all back, ticks the list and ends the recording. */
async function workInBay(at: Page, list: FeedTree, each: () => Promise<void> = () => Promise.resolve()): Promise<void> {
  for (const end = Date.now() + MINUTES; (await at.locator('.finished').count()) === 0;) {
    if (Date.now() > end) throw new Error(`it did not come; the page asks: ${await headline(at)}`);
    await each();
    if (!(await doAsThePageSays(at, stage.hands, list, 'buttons'))) await pause(50);
  }
  while (/^(Bridge on: |Put )/.test(await headline(at)))
    if (!(await doAsThePageSays(at, stage.hands, list, 'buttons'))) await pause(50);
  while (!(await headline(at)).startsWith('All done')) {
    const asked = await headline(at);
    await pause(300);
    await press(at.locator('[data-answer="tap"]'));
    await untilOther(at, asked);
  }
  await press(at.locator('.answers:not([hidden])').getByRole('button', { name: 'End the recording' }));
  await at.locator('.work[data-doing="ended"]').waitFor();
}

test(
  'a night recorded from the live page, and the morning view of it',
  async () => {
    names.before = await stage.recordNight(page, 'dead after four days', 2 * HOUR_s);
    await page.locator('#verdict[data-verdict="over"]').waitFor();
    said.before = await verdict(page);
    expect(said.before).toMatch(/35\d\smA/);
    expect(await page.locator('#verdict .when').innerText()).toContain('dead after four days');
    await expectAccessible(page, 'the morning');
  },
  2 * MINUTES,
);

test(
  'the search in the bay with two faults, from preparing to the end of the recording',
  async () => {
    await press(page.getByRole('link', { name: 'In the bay' }));
    await page.getByLabel('Feed tree, a CSV file').setInputFiles(TREE);
    await page.getByText('no mistake found').waitFor();
    await press(page.getByRole('button', { name: 'Look for boards' }));
    await page.waitForFunction(() => document.querySelector<HTMLSelectElement>('#tree-board')!.value !== '');
    await page.getByLabel('Job or complaint').fill('dead after four days');
    await press(page.getByRole('button', { name: 'Begin the work' }));
    await prepare(page);
    await workInBay(page, tree);
    names.work = new URL(page.url()).searchParams.get('name')!;
    await press(page.getByRole('link', { name: 'Open this recording' }));
    await page.locator('#verdict[data-verdict="work"]').waitFor();
    said.parts = await partsOn(page);
    expect(said.parts).toHaveLength(2);
    expect(said.parts[0]).toMatch(/^mirror left 9\d\smA ± \d+, proven\s+fed by way of L3 > D1 > D9/);
    expect(said.parts[1]).toMatch(/^telematics box 2\d\d\smA ± \d+, proven\s+fed by way of L2 > E7/);
    // Work is no night: nothing of it is judged as one.
    for (const id of ['cost', 'meaning']) expect(await page.locator(`#${id}`).isVisible()).toBe(false);
    await expectAccessible(page, 'the work');
  },
  2 * MINUTES,
);

test(
  'the repair, a second night, and the proof before and after',
  async () => {
    // The work ended with the bridge on; past it the board would see a quarter of the draw.
    stage.hands.put(BRIDGE, false);
    for (const part of FAULTS) stage.hands.put(`repaired ${part}`, true);
    names.after = await stage.recordNight(page, 'dead after four days', 1.2 * HOUR_s);
    await page.locator('#verdict[data-verdict="within"]').waitFor();
    said.after = await verdict(page);
    expect(said.after).toMatch(/2\d(\.\d)?\smA/);
    await unfold(page, 'compare');
    await page.locator(`#compare-other option[value="${names.before}"]`).waitFor({ state: 'attached' });
    await page.getByLabel('Compare with').selectOption(names.before);
    await page.locator('#compare .proof').filter({ hasText: /\w/ }).waitFor();
    said.proof = await page.locator('#compare .proof').innerText();
    expect(said.proof).toMatch(/^Proven: within the allowance for /);
    await expectAccessible(page, 'the proof');
  },
  2 * MINUTES,
);

/** Writes the job folder of the open night from the page. @returns the words of its PDF */
async function reportFrom(at: Page): Promise<string> {
  await unfold(at, 'report');
  for (const [label, name] of [
    ['Night before the repair', names.before],
    ['Work in the bay', names.work],
  ] as const) {
    const choice = at.getByLabel(label);
    await choice.locator(`option[value="${name}"]`).waitFor({ state: 'attached' });
    await choice.selectOption(name);
  }
  await press(at.getByRole('button', { name: 'Job folder' }));
  const told = at.locator('#report .said').filter({ hasText: 'lies beside the captures' });
  await told.waitFor();
  return stage.reportIn(await told.innerText());
}

function expectTold(pdf: string): void {
  for (const words of [said.after, said.proof]) expect(letters(pdf)).toContain(letters(words));
  for (const part of said.parts) {
    const [, name, draws, code, way] = /^(.+?) (\d+\smA ± \d+), (.+?)\s+fed by way of (.+)$/.exec(part)!;
    expect(letters(pdf)).toContain(letters(`${code} ${name} ${draws} ${way}`));
  }
}

test(
  'the report in the job folder says what the page said',
  async () => {
    const pdf = await reportFrom(page);
    expectTold(pdf);
    expect(letters(pdf)).not.toContain(letters('not proven'));
    // The night before alone proves nothing, on the page and on paper.
    await openNight(page, names.before);
    await unfold(page, 'report');
    await press(page.getByRole('button', { name: 'Job folder' }));
    const told = page.locator('#report .said').filter({ hasText: 'lies beside the captures' });
    await told.waitFor();
    const first = letters(stage.reportIn(await told.innerText()));
    expect(first).toContain(letters(said.before));
    expect(first).not.toContain('roven');
    expect(stage.complaints).toEqual([]);
  },
  MINUTES,
);

/** As it is typed in on a telephone: the boxes that matter here. */
const TYPED = [
  ['battery', 'L2', '100', 'bolted', 'E4, E7'],
  ['battery', 'L3', '80', 'bolted', 'D1, D2, D4, D5'],
  ['engine bay', 'E4', '5', 'miniature', 'alarm siren'],
  ['engine bay', 'E7', '10', 'miniature', 'telematics box'],
  ['dash', 'D1', '30', 'regular', 'D9, D10'],
  ['dash', 'D2', '10', 'regular', 'radio'],
  ['dash', 'D4', '10', 'regular', 'gateway'],
  ['dash', 'D5', '15', 'regular', 'keyless receiver'],
  ['dash', 'D9', '10', 'regular', 'door module left, mirror left'],
  ['dash', 'D10', '10', 'regular', 'door module right'],
] as const;
const typedTree = readTree(
  ['box,position,rating,type,feeds', ...TYPED.map((row) => row.map((cell) => `"${cell}"`).join())].join('\n'),
).tree!;

/** Where it stands on the screen as it is now. */
const placeOf = async (what: Locator) => (await what.boundingBox())!;

async function typeList(at: Page): Promise<void> {
  await press(at.getByText('Typed in here'));
  for (const [i, [box, position, rating, type, feeds]] of TYPED.entries()) {
    if (i > 0) await press(at.getByRole('button', { name: 'Add a row' }));
    const row = at.getByRole('group', { name: `Row ${i + 1}`, exact: true });
    for (const [label, text] of Object.entries({ Box: box, Position: position, Rating: rating, Feeds: feeds }))
      await row.getByLabel(label).fill(text);
    await row.getByLabel('Type').selectOption(type);
  }
  await at.getByText('10 fuses, 0 relays, 8 parts; no mistake found').waitFor();
}

test(
  'on a telephone: the morning, the search by taps alone, the report',
  async () => {
    const phone = await stage.page(390, { path: '', height_px: 780, hasTouch: true, isMobile: true, dark: true });
    for (const part of FAULTS) stage.hands.put(`repaired ${part}`, false);
    await press(phone.locator('#shelf summary'));
    await press(phone.locator(`#shelf a[href="#${encodeURIComponent(names.before)}"]`));
    await phone.locator('#verdict[data-verdict="over"]').waitFor();
    expect(await verdict(phone)).toBe(said.before);
    const sentence = await placeOf(phone.locator('#verdict-sentence'));
    expect(sentence.y + sentence.height).toBeLessThan(780);
    expect(await wide(phone)).toBeLessThanOrEqual(0);

    await press(phone.getByRole('link', { name: 'In the bay' }));
    await typeList(phone);
    await press(phone.getByRole('button', { name: 'Look for boards' }));
    await phone.waitForFunction(() => document.querySelector<HTMLSelectElement>('#tree-board')!.value !== '');
    await press(phone.getByRole('button', { name: 'Begin the work' }));
    await phone.getByText('Preparing, 1 of 11').waitFor();
    await press(phone.getByText('Leave this part out'));
    await press(phone.getByRole('button', { name: 'All is prepared already' }));
    // What is to be done next comes into sight by itself.
    await phone.waitForFunction(() => document.querySelector('.work')!.getBoundingClientRect().y > -1);
    // The order is at the top of the screen, and its large button where the thumb was, whatever is asked.
    const feet = new Set<number>();
    let seen = '';
    await workInBay(phone, typedTree, async () => {
      // In one look: what is asked for may change meanwhile.
      const look = await phone.evaluate(() => {
        const [order, button] = ['.headline', '.answers:not([hidden]) .main'].map((one) => document.querySelector(one));
        const [top, foot] = [order!.getBoundingClientRect(), button?.getBoundingClientRect()];
        return { asked: order!.textContent, top: top.y, bottom: foot?.bottom ?? 0, height: foot?.height ?? 0 };
      });
      if (look.asked === seen || look.height === 0) return;
      seen = look.asked;
      expect([look, look.top >= 0 && look.bottom <= 780 && look.height >= 64]).toEqual([look, true]);
      feet.add(Math.round(look.bottom));
    });
    expect(feet.size).toBe(1);
    const work = new URL(phone.url()).searchParams.get('name')!;
    await press(phone.getByRole('link', { name: 'Open this recording' }));
    await phone.locator('#verdict[data-verdict="work"]').waitFor();
    const parts = await partsOn(phone);
    expect(parts.map((part) => /^(mirror left|telematics box) \d+\smA ± \d+, proven/.exec(part)?.[1])).toEqual(
      [...FAULTS].sort(),
    );
    expect(await wide(phone)).toBeLessThanOrEqual(0);
    await expectAccessible(phone, 'the work on a telephone');

    await press(phone.locator('#shelf summary'));
    await press(phone.locator(`#shelf a[href="#${encodeURIComponent(names.after)}"]`));
    await phone.locator('#verdict[data-verdict="within"]').waitFor();
    [names.work, said.parts] = [work, parts];
    expectTold(await reportFrom(phone));
    expect(stage.complaints).toEqual([]);
  },
  3 * MINUTES,
);
