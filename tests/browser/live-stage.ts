// The live page of the real `serve` command, with emulated boards on real pseudo-terminals.

import { join } from 'node:path';
import type { Locator, Page } from 'playwright-core';
import type { CarSpec } from '../../host/emulator/car/spec.ts';
import { TamperedBoard } from '../board/night/tampered-board.ts';
import { ServedStage } from './served.ts';

/** A load that goes on and off every six seconds, for an hour; nothing in it is random. */
export function switchedCar(high_mA: number, low_mA: number): CarSpec {
  return {
    lock_s: 0,
    modules: [{ name: 'switched', asleep_mA: low_mA, awake: Array.from({ length: 600 }, (_, i) => ({ untilAfterLock_s: 6 * (i + 1), mA: i % 2 === 0 ? high_mA : low_mA })) }],
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
    const live = page.locator('.live-board[data-doing="live"]').filter({ hasText: `Board ${(0xa0 + n).toString(16).toUpperCase().padStart(8, '0')}` });
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
