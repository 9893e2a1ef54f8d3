// The real `serve` command on a folder of its own, with emulated boards on real
// pseudo-terminals, and the live page in Debian's chromium. Server and page are as
// built: `npm test` builds first.

import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium } from 'playwright-core';
import type { Browser, BrowserContextOptions, Locator, Page } from 'playwright-core';
import type { CarSpec } from '../../host/emulator/car/spec.ts';
import { TamperedBoard } from '../board/night/tampered-board.ts';
import { CHROMIUM, FLAGS } from './page.ts';

const AXE = new URL('../../node_modules/axe-core/axe.min.js', import.meta.url).pathname;
const MAIN = new URL('../../.build/host/main.js', import.meta.url).pathname;

/** A load that goes on and off every six seconds, for an hour; nothing in it is random. */
export function switchedCar(high_mA: number, low_mA: number): CarSpec {
  return {
    lock_s: 0,
    modules: [{ name: 'switched', asleep_mA: low_mA, awake: Array.from({ length: 600 }, (_, i) => ({ untilAfterLock_s: 6 * (i + 1), mA: i % 2 === 0 ? high_mA : low_mA })) }],
    battery: { capacity_Ah: 60, rested_V: 12.6, fall_V: 0.9, surface_V: 0, surfaceTau_s: 3600, internal_mOhm: 10 },
    climate: { start_C: 20, end_C: 20, tau_s: 3600, swing_C: 0, swingPeriod_s: 3600 },
  };
}

export class LiveStage {
  readonly root = mkdtempSync(join(tmpdir(), 'nightdraw-live-'));
  readonly captures = join(this.root, 'captures');
  readonly boards: TamperedBoard[] = [];
  readonly ports: string[] = [];
  /** Captures that the boards are recorded into, by the board's place. */
  readonly names: string[] = [];
  /** What pages complained about. While the server is away its absence is no complaint. */
  readonly complaints: string[] = [];
  browser!: Browser;
  url = '';
  lanUrl = '';
  output = '';
  private server: ChildProcess | null = null;

  async open(cars: CarSpec[]): Promise<void> {
    mkdirSync(this.captures);
    cars.forEach((car, i) => {
      this.ports.push(join(this.root, `port${i}`));
      this.boards.push(new TamperedBoard({ link: this.ports[i]!, car, seed: 1, id: 0xa0 + i, random: () => 1 }));
    });
    this.browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS, headless: true });
  }

  /** Resolves when it answers. @param port 0 at first; the same again afterwards, as a bookmark has it */
  async serve(port = 0, more: string[] = []): Promise<void> {
    const boardPorts = this.ports.flatMap((path) => ['--board-port', path]);
    const server = (this.server = spawn(process.execPath, [MAIN, 'serve', '--dir', this.captures, '--port', String(port), ...boardPorts, ...more], { stdio: ['ignore', 'pipe', 'pipe'] }));
    let text = '';
    for (const stream of [server.stdout, server.stderr]) stream.setEncoding('utf8').on('data', (part: string) => {
      text += part;
      this.output += part;
    });
    for (let i = 0; i < 600; i++) {
      const url = /The view is at (http:\S+)/.exec(text)?.[1];
      if (url !== undefined) {
        this.url = url;
        return;
      }
      if (server.exitCode !== null) break;
      await new Promise((resolve) => setTimeout(resolve, 50));
    }
    throw new Error(`serve did not begin: ${text}`);
  }

  get port(): number {
    return Number(new URL(this.url).port);
  }

  /** As a power cut or a crash ends it. */
  async kill(signal: NodeJS.Signals = 'SIGKILL'): Promise<void> {
    const server = this.server;
    this.server = null;
    if (server === null || server.exitCode !== null) return;
    const ended = new Promise((resolve) => server.once('exit', resolve));
    server.kill(signal);
    await ended;
  }

  async page(width_px: number, options: BrowserContextOptions & { height_px?: number; dark?: boolean; path?: string; init?: () => void } = {}): Promise<Page> {
    const { height_px = 900, dark = false, path = 'live.html', init, ...more } = options;
    const context = await this.browser.newContext({ viewport: { width: width_px, height: height_px }, colorScheme: dark ? 'dark' : 'light', reducedMotion: 'reduce', ...more });
    if (init !== undefined) await context.addInitScript(init);
    const page = await context.newPage();
    page.setDefaultTimeout(15_000);
    page.on('console', (message) => {
      if ((message.type() === 'error' || message.type() === 'warning') && this.server !== null) this.complaints.push(`console: ${message.text()}`);
    });
    page.on('pageerror', (error) => this.complaints.push(`page: ${error.message}`));
    await page.goto(`${this.url}${path}`);
    return page;
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

  async close(): Promise<void> {
    await this.browser.close();
    await this.kill('SIGTERM');
    this.boards.forEach((board) => board.stop());
    rmSync(this.root, { recursive: true, force: true });
  }
}

/** Looks for boards and waits for what was found. */
export async function findBoards(page: Page, count: number): Promise<void> {
  await page.getByRole('button', { name: 'Look for boards' }).click();
  await page.waitForFunction((n) => document.querySelectorAll('.found form').length === n, count);
}

/** What axe-core objects to, in words. */
export async function violations(page: Page): Promise<string[]> {
  await page.evaluate(readFileSync(AXE, 'utf8'));
  return page.evaluate(async () => {
    const { violations } = await (window as unknown as { axe: { run: () => Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> } }).axe.run();
    return violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ html }) => html).join(' ')}`);
  });
}
