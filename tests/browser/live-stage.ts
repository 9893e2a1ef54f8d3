// The live page of the real `serve` command, with emulated boards on real pseudo-terminals.

import { join } from 'node:path';
import type { Locator, Page } from 'playwright-core';
import { openCapture } from '../../host/capture/read/reader.ts';
import type { CarSpec } from '../../host/emulator/car/spec.ts';
import type { SentWindow } from '../board/night/tampered-board.ts';
import { TamperedBoard } from '../board/night/tampered-board.ts';
import { ServedStage } from './served.ts';

/** A load that goes on and off every six seconds, for an hour; nothing in it is random. */
export function switchedCar(high_mA: number, low_mA: number): CarSpec {
  return {
    lock_s: 0,
    modules: [
      {
        name: 'switched',
        asleep_mA: low_mA,
        awake: Array.from({ length: 600 }, (_, i) => ({
          untilAfterLock_s: 6 * (i + 1),
          mA: i % 2 === 0 ? high_mA : low_mA,
        })),
      },
    ],
    battery: { capacity_Ah: 60, rested_V: 12.6, fall_V: 0.9, surface_V: 0, surfaceTau_s: 3600, internal_mOhm: 10 },
    climate: { start_C: 20, end_C: 20, tau_s: 3600, swing_C: 0, swingPeriod_s: 3600 },
  };
}

export class LiveStage extends ServedStage {
  readonly boards: TamperedBoard[] = [];
  /** Captures that the boards are recorded into, by the board's place. */
  readonly names: string[] = [];
  lanUrl = '';

  constructor() {
    super('live.html');
  }

  async open(cars: CarSpec[]): Promise<void> {
    cars.forEach((car, i) => {
      this.ports.push(join(this.root, `port${i}`));
      this.boards.push(new TamperedBoard({ link: this.ports[i]!, car, seed: 1, id: 0xa0 + i, random: () => 1 }));
    });
    await this.launch();
  }

  /** Remembers what the n-th board is recorded into, as soon as its panel is live. */
  async nameOf(page: Page, n: number): Promise<void> {
    const live = page
      .locator('.live-board[data-doing="live"]')
      .filter({ hasText: `Board ${(0xa0 + n).toString(16).toUpperCase().padStart(8, '0')}` });
    this.names[n] = (await live.getAttribute('data-name'))!;
  }

  /** The panel of the recording that the n-th board was named for last. */
  panel(page: Page, n: number): Locator {
    return page.locator(`.live-board[data-name="${this.names[n]}"]`);
  }

  /** Waits until that panel says so of itself. */
  async untilDoing(page: Page, n: number, doing: string): Promise<void> {
    await page.locator(`.live-board[data-name="${this.names[n]}"][data-doing="${doing}"]`).waitFor();
  }

  /** Starts recording the n-th board from the list of those found. @param texts by the labels of the form */
  async begin(page: Page, n: number, texts: Record<string, string> = {}): Promise<void> {
    const form = page
      .locator('.found > li')
      .filter({ hasText: `A${n} at` })
      .locator('form');
    if (Object.keys(texts).length > 1) await form.locator('summary').click();
    for (const [label, text] of Object.entries(texts)) await form.getByLabel(label).fill(text);
    await form.getByRole('button', { name: 'Start recording' }).click();
    await this.nameOf(page, n);
  }

  /** Sequence numbers in a capture, and the windows that the board sent from the first to the last of them. */
  keptAndSent(n: number): { kept: number[]; sent: SentWindow[] } {
    const capture = openCapture(join(this.captures, this.names[n]!));
    const kept = capture.readings().flatMap(({ windows }) => Array.from(windows.seq));
    capture.close();
    const sent = this.boards[n]!.sent.filter(({ window: { seq } }) => seq >= kept[0]! && seq <= kept.at(-1)!);
    return { kept, sent };
  }

  /**
   * How long after it was on the wire each window was painted, ascending; for so many windows. @throws Error where one
   * was not on the wire
   */
  async lags_ms(page: Page, n: number, count: number): Promise<number[]> {
    const painted = await this.panel(page, n)
      .locator('canvas')
      // No function with a name in here: what runs the benches marks those in a way that a browser does not know.
      .evaluate(async (canvas: HTMLCanvasElement, count) => {
        const seen: [number, number][] = [];
        for (let drawn = ''; seen.length < count;) {
          // What was drawn in the frame before this one has been painted by now.
          const now = canvas.dataset['drawnTo'] ?? '';
          if (drawn !== '' && seen.at(-1)?.[0] !== Number(drawn))
            seen.push([Number(drawn), performance.timeOrigin + performance.now()]);
          drawn = now;
          await new Promise(requestAnimationFrame);
        }
        return seen;
      }, count);
    const { kept, sent } = this.keptAndSent(n);
    const first = sent.find(({ window }) => window.seq === kept[0]!)!.window;
    const start_us = first.t_us - first.dur_us;
    const onWire = this.boards[n]!.sent.map(({ window, at_ms }) => ({
      t_s: (window.t_us - start_us) / 1e6,
      at_ms: performance.timeOrigin + at_ms,
    }));
    return painted
      .map(([t_s, painted_ms]) => {
        const wire = onWire.reduce((best, one) => (Math.abs(one.t_s - t_s) < Math.abs(best.t_s - t_s) ? one : best));
        if (Math.abs(wire.t_s - t_s) >= 0.02)
          throw new Error(`a window at ${t_s} s was painted that was not on the wire`);
        return painted_ms - wire.at_ms;
      })
      .sort((a, b) => a - b);
  }

  override async close(): Promise<void> {
    await super.close();
    this.boards.forEach((board) => board.stop());
  }
}

/** Looks for boards and waits for what was found. */
export async function findBoards(page: Page, count: number): Promise<void> {
  await page.getByRole('button', { name: 'Look for boards' }).click();
  await page.waitForFunction((n) => document.querySelectorAll('.found form').length === n, count);
}
