// The bay's page in Debian's chromium, on the real `serve` command, with the shipped
// firmware in the emulated board and the car whose fuses can be pulled.
import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import type { Locator, Page } from 'playwright-core';
import type { FeedTree } from '../../host/bay/tree/tree.ts';
import { deedFor, HandsFile, program } from '../board/bay-terminal.ts';
import { ServedStage } from './served.ts';

export const TREE = new URL('../../host/bay/examples/demo-tree.csv', import.meta.url).pathname;

export class BayStage extends ServedStage {
  readonly hands = new HandsFile(join(this.root, 'hands'));
  private board!: ChildProcess;

  constructor() {
    super('bay.html');
  }

  async open(speed: number): Promise<void> {
    const link = join(this.root, 'board');
    this.ports.push(link);
    this.board = spawn(
      process.execPath,
      [program, 'emulate', '--link', link, '--car', 'pulls', '--speed', String(speed), '--hands', this.hands.path],
      { stdio: 'ignore' },
    );
    for (let tries = 0; tries < 200 && !existsSync(link); tries++) await pause(50);
    await this.launch();
  }

  override async close(): Promise<void> {
    await super.close();
    this.board.kill('SIGTERM');
  }
}

/** Presses as the reader of this page does: with a finger where the screen takes one. */
export async function press(what: Locator): Promise<void> {
  const touch = await what.evaluate(() => navigator.maxTouchPoints > 0);
  await (touch ? what.tap() : what.click());
}

export const headline = async (page: Page): Promise<string> => (await page.locator('.headline').textContent()) ?? '';

/** Waits until something else is asked for. @throws Error where nothing comes */
export async function untilOther(page: Page, than: string): Promise<void> {
  await page
    .waitForFunction((before) => document.querySelector('.headline')?.textContent !== before, than, {
      timeout: 120_000,
    })
    .catch(async () => {
      throw new Error(`nothing else was asked for: ${await page.locator('#work').innerText()}`);
    });
}

/**
 * Waits until so much of the car's time is on the disk. The hands at the car are looked at
 * by the same program that makes its time, and a tap so soon after the last is taken for
 * the same one: both however slow this computer is.
 */
async function carPasses(page: Page, length_s: number): Promise<void> {
  const recorded_s = () =>
    page.evaluate(async () => {
      const { recordings } = (await (await fetch('api/recordings')).json()) as { recordings: { recorded_s: number }[] };
      return recordings.reduce((sum, one) => sum + one.recorded_s, 0);
    });
  const from_s = await recorded_s();
  while ((await recorded_s()) < from_s + length_s) await pause(50);
}

/** The session takes a second tap within 1.5 s for the first. */
const APART_s = 2;

/** Does what the page asks for, once, and answers with its buttons or keys; `true` where something was done. */
export async function doAsThePageSays(
  page: Page,
  hands: HandsFile,
  tree: FeedTree,
  by: 'buttons' | 'keys',
): Promise<boolean> {
  const asked = await headline(page);
  const deed = deedFor(asked, hands, tree);
  if (deed === null) return false;
  if ('hand' in deed) {
    hands.put(deed.hand, deed.out);
    await carPasses(page, APART_s);
    // The readings may have told by themselves what was done: whoever looks up then sees that it went on.
    if ((await headline(page)) !== asked) return true;
    if (by === 'keys') await page.keyboard.press('Enter');
    else await press(page.locator('[data-answer="tap"]'));
  } else if (/^[yn]$/.test(deed.answer)) {
    if (by === 'keys') await page.keyboard.press(deed.answer);
    else await press(page.locator(`[data-answer="${deed.answer === 'y' ? 'yes' : 'no'}"]`));
  } else if (by === 'keys') {
    await page.keyboard.type(deed.answer);
    await page.keyboard.press('Enter');
  } else {
    await page.getByLabel('Voltage read, in mV').fill(deed.answer);
    await press(page.locator('[data-answer="drop"]'));
  }
  await untilOther(page, asked);
  return true;
}
