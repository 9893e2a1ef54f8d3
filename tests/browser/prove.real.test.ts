// Proving a board from the page: the real server, the shipped image behind a pseudo-terminal on a bench whose
// loads are put on as the page says, and the keyboard alone.
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { startEmulatedBoard } from '../../host/emulator/emulated-port.ts';
import type { EmulatedPort } from '../../host/emulator/emulated-port.ts';
import { QUESTIONS, STEP_WORDS } from '../../host/prove/steps.ts';
import { Bench } from '../board/proving/bench.ts';
import type { Load } from '../board/proving/bench.ts';
import { BUILD_FAULTS, SOUND } from '../board/proving/build-faults.ts';
import { soundSpecimen } from '../board/proving/specimens.ts';
import { carOf, IMAGE } from '../board/board-run.ts';
import { expectAccessible } from './axe.ts';
import { ServedStage } from './served.ts';

const LOADS: Record<string, Load> = { rest: 'none', series: 'series', one: 'one', both: 'both', moved: 'one' };
const SWAPPED = BUILD_FAULTS.find(({ is }) => is === 'sense-swapped')!;
const stage = new ServedStage('live.html');
const benches = [SOUND, SWAPPED].map((build) => new Bench(build, soundSpecimen(6)));
const boards: EmulatedPort[] = [];

beforeAll(async () => {
  benches.forEach(({ options: { pins, errors } }, i) => {
    const link = join(stage.root, `port${i}`);
    stage.ports.push(link);
    boards.push(
      startEmulatedBoard({
        image: IMAGE,
        scenario: { name: 'bench', summary: '', length_s: 600, seed: 6, car: carOf([]) },
        // Of a speed that is told to be its computer's: a busy computer's clock is not judged.
        speed: 2,
        link,
        id: 0xb0 + i,
        ...(pins && { pins }),
        ...(errors && { errors }),
        log: () => undefined,
        now_ms: () => performance.now(),
      }),
    );
  });
  await stage.launch();
  await stage.serve();
}, 120_000);
afterAll(async () => {
  await stage.close();
  boards.forEach((board) => board.close());
});

/** From the list of boards to the first sentence. */
async function begin(page: Page, n: number, by: string): Promise<void> {
  await page.getByRole('button', { name: 'Look for boards' }).click();
  const item = page.locator('.found > li').filter({ hasText: `Board 000000B${n}` });
  await item.getByRole('link', { name: /Prove it/ }).click();
  await page.getByLabel('Who proves it').fill(by);
  await page.keyboard.press('Enter');
}

/** Does what the page says, by keyboard alone, until it has an outcome. Returns the sentences that were asked. */
async function follow(page: Page, bench: Bench, looked: (state: string) => Promise<void>): Promise<string[]> {
  const asked: string[] = [];
  for (;;) {
    await page.waitForSelector('.stage[data-state="asking"], .outcome');
    if ((await page.locator('.outcome').count()) > 0) return asked;
    const sentence = (await page.textContent('.sentence'))!;
    asked.push(sentence);
    const step = Object.entries(STEP_WORDS).find(([, words]) => words.sentence === sentence)?.[0];
    await looked(step ?? 'number');
    if (step !== undefined) bench.connect(LOADS[step]!);
    else {
      const lead = sentence === QUESTIONS.voltageLead_mV.sentence;
      const value = lead
        ? bench.voltageLead_mV()
        : sentence === QUESTIONS.clamps_V.sentence
          ? bench.clamps_V()
          : bench.ampere();
      await page.keyboard.type(value.toFixed(2).replace('.', ','));
    }
    await page.keyboard.press('Enter');
    await page.waitForFunction((before) => document.querySelector('.sentence')?.textContent !== before, sentence);
  }
}

test('a sound board, on a phone: asked step by step, its certificate in it, and the work is never lost', async () => {
  const page = await stage.page(390, { height_px: 844 });
  await begin(page, 0, 'Night shift');
  const seen = new Set<string>();
  const asked = await follow(page, benches[0]!, async (state) => {
    if (seen.has(state)) return;
    seen.add(state);
    await expectAccessible(page, `prove.html, ${state}`);
    for (const one of await page.locator('#prove button, #prove input').all()) {
      const box = (await one.boundingBox())!;
      expect(Math.min(box.height, box.width), await one.evaluate((e) => e.outerHTML)).toBeGreaterThanOrEqual(48);
    }
    // Whoever opens the page anew, or on another device, sees the same sentence.
    if (state === 'series') await page.reload();
  });
  expect(asked.slice(0, 3)).toEqual([
    STEP_WORDS.rest.sentence,
    QUESTIONS.clamps_V.sentence,
    STEP_WORDS.series.sentence,
  ]);
  expect(await page.textContent('.stage')).toMatch(
    /^SoundThe board is sound: checked on \d{4}-\d\d-\d\d, by Night shift, within \d\.\d % of the meter and 0\.\d\d mA at rest\./,
  );
  await expectAccessible(page, 'prove.html, sound');
  await page.context().close();
});

test('one with its sense leads swapped is named; a letter is no number; ended before its end nothing is kept', async () => {
  const page = await stage.page(1280);
  await begin(page, 1, '');
  await page.waitForSelector('.stage[data-state="asking"]');
  await page.getByRole('button', { name: 'End it' }).click();
  await page.getByText('Ended before the board was proved').waitFor();
  await page.getByRole('button', { name: 'Prove it again' }).click();
  await page.getByRole('button', { name: 'Begin' }).click();
  let tried = false;
  await follow(page, benches[1]!, async (state) => {
    if (state !== 'number' || tried) return;
    tried = true;
    await page.keyboard.type('twelve');
    await page.keyboard.press('Enter');
    await page.getByText('That is no number.').waitFor();
    await page.locator('#prove input').fill('1200');
    await page.keyboard.press('Enter');
    await page.getByText(/^That is no number from 0 to 30 V/).waitFor();
    await page.locator('#prove input').fill('');
  });
  expect(tried).toBe(true);
  // The refusal is one of the server's answers, which a browser also writes into its console.
  expect(stage.complaints.splice(0)).toEqual([expect.stringContaining('409')]);
  expect(await page.textContent('.outcome')).toBe('Not sound');
  expect(await page.textContent('.sentence')).toMatch(/the sense leads are swapped/);
  expect(await page.textContent('.remedy')).toMatch(/^Change the two thin leads over/);
  await expectAccessible(page, 'prove.html, not sound');
  await page.context().close();
});

test('nobody complained', () => expect(stage.complaints).toEqual([]));
