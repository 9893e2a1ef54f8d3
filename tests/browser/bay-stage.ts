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

/** How an answer is given. */
export type By = 'buttons' | 'keys' | 'voice';

/**
 * Stands in for the browser's own recognition, which a computer without a microphone and without a language pack does
 * not have (asked for its languages, Debian's headless browser loses the page): it says what a test says, and only
 * where the page listens.
 */
export const ear = () => {
  const listening = new Set<EventTarget>();
  class SpeechRecognition extends EventTarget {
    static available({ processLocally }: { processLocally: boolean }) {
      return Promise.resolve(processLocally ? 'downloadable' : 'unavailable');
    }
    static install() {
      return Promise.resolve((window as { network?: boolean }).network === true);
    }
    start() {
      // To recognition over a server nothing is said.
      if ((this as { processLocally?: boolean }).processLocally === true) listening.add(this);
    }
    abort() {
      listening.delete(this);
    }
  }
  const said = (text: string) => {
    for (const one of listening) {
      one.dispatchEvent(new Event('speechstart'));
      const result = Object.assign([{ transcript: text }], { isFinal: true });
      one.dispatchEvent(Object.assign(new Event('result'), { resultIndex: 0, results: [result] }));
      return true;
    }
    return false;
  };
  Object.assign(window, { SpeechRecognition, said });
};

/** Waits until the page listens. */
export async function sayTo(page: Page, text: string): Promise<void> {
  await page.waitForFunction((words) => (window as unknown as { said(text: string): boolean }).said(words), text);
}

/** Presses as the reader of this page does: with a finger where the screen takes one. */
export async function press(what: Locator, timeout = 60_000): Promise<void> {
  const touch = await what.evaluate(() => navigator.maxTouchPoints > 0, undefined, { timeout });
  await (touch ? what.tap({ timeout }) : what.click({ timeout }));
}

export const headline = async (page: Page): Promise<string> => (await page.locator('.headline').textContent()) ?? '';

/** Waits until something else is asked for. @throws Error where nothing comes */
export async function untilOther(page: Page, than: string): Promise<void> {
  await page
    .waitForFunction(
      (before) =>
        document.querySelector('.headline')?.textContent !== before ||
        // A voltage that came while the draw moved, or a tap too soon after another device's, was not taken; the page
        // says so, and asks again.
        document.querySelector<HTMLElement>('.order .trouble')?.hidden === false,
      than,
      { timeout: 120_000 },
    )
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
/** And the page a tap so soon after another question for one that was meant for the last. */
const APART_MS = 300;
/** A button that is there is pressed long before. */
const PRESS_MS = 10_000;

/**
 * Gives an answer to the sentence that was read, and to no other: the readings may ask for something else in the
 * middle of it.
 */
async function answer(page: Page, asked: string, by: By, which: string, typed = ''): Promise<void> {
  const order = page.locator('.order').filter({ has: page.getByText(asked, { exact: true }) });
  try {
    if (by === 'keys') {
      if ((await headline(page)) !== asked) return;
      await page.keyboard.type(typed);
      if (which === 'tap' || which === 'drop') await page.keyboard.press('Enter');
      return;
    }
    if (by === 'voice') {
      if ((await headline(page)) !== asked) return;
      if (which === 'drop') await sayTo(page, typed);
      await sayTo(page, which === 'drop' ? 'note it' : which === 'tap' ? 'Done.' : which);
      return;
    }
    if (which === 'drop') await order.getByLabel('Voltage read, in mV').fill(typed, { timeout: PRESS_MS });
    await press(order.locator(`[data-answer="${which}"]`), PRESS_MS);
  } catch (error) {
    if ((await headline(page)) === asked) throw error;
  }
}

/** Does what the page asks for, once, and answers with its buttons or keys; `true` where something was done. */
export async function doAsThePageSays(page: Page, hands: HandsFile, tree: FeedTree, by: By): Promise<boolean> {
  const asked = await headline(page);
  const deed = deedFor(asked, hands, tree);
  if (deed === null) return false;
  if ('hand' in deed) {
    hands.put(deed.hand, deed.out);
    await Promise.all([carPasses(page, APART_s), pause(APART_MS)]);
    // The readings may have told by themselves what was done: whoever looks up then sees that it went on.
    if ((await headline(page)) !== asked) return true;
    await answer(page, asked, by, 'tap');
  } else if (/^[yn]$/.test(deed.answer)) await answer(page, asked, by, deed.answer === 'y' ? 'yes' : 'no', deed.answer);
  else await answer(page, asked, by, 'drop', deed.answer);
  await untilOther(page, asked);
  return true;
}
