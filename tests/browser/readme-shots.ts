// The pictures of README.md: the example night in the page as built, a recording of an
// emulated board that is under way, and the report. pictures.ts takes them,
// gallery.real.test.ts compares them with what is kept. In UTC, wherever it runs.

import { spawn, spawnSync } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';
import type { Browser, Page } from 'playwright-core';
import { outlineOf } from './outline.ts';
import { CHROMIUM, FLAGS, quiet, settled, watchRequests } from './page.ts';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const PROGRAM = join(ROOT, '.build/host/main.js');
const NIGHT = 'wakes-often.nightdraw';
/** The fall of the bench car after 25 s, as it is said aloud (host/emulator/car/scenarios/bench.ts). */
const CALLED = '−460 mA, now 180 mA';
/** And a little more of the level after it. */
const AFTER_MS = 400;

export class ReadmeStage {
  private readonly children: ChildProcess[] = [];
  private folder = '';
  private browser!: Browser;
  private url = '';

  private get dir(): string {
    return join(this.folder, 'captures');
  }

  private get env(): NodeJS.ProcessEnv {
    return { ...process.env, XDG_CONFIG_HOME: this.folder, TZ: 'UTC' };
  }

  async open(): Promise<void> {
    this.folder = mkdtempSync(join(tmpdir(), 'nightdraw-pictures-'));
    mkdirSync(this.dir);
    cpSync(join(ROOT, 'captures', NIGHT), join(this.dir, NIGHT));
    const port = join(this.folder, 'board');
    await this.leftRunning(['emulate', '--link', port, '--car', 'bench', '--speed', '3'], /is at /);
    this.url = await this.leftRunning(
      ['serve', '--dir', this.dir, '--port', '0', '--board-port', port],
      /The view is at (\S+)/,
    );
    this.browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS, headless: true });
  }

  private async leftRunning(args: string[], ready: RegExp): Promise<string> {
    const child = spawn(process.execPath, [PROGRAM, ...args], { env: this.env, stdio: ['ignore', 'pipe', 'inherit'] });
    this.children.push(child);
    let said = '';
    for await (const bytes of child.stdout) {
      const found = ready.exec((said += String(bytes)));
      if (found !== null) return found[1] ?? '';
    }
    throw new Error(`${args.join(' ')} ended: ${said}`);
  }

  async shown(name: 'readme-night' | 'readme-live'): Promise<Page> {
    const page = await this.browser.newPage({
      viewport: { width: 1180, height: name === 'readme-night' ? 1060 : 860 },
      timezoneId: 'UTC',
      reducedMotion: 'reduce',
    });
    page.setDefaultTimeout(60_000);
    watchRequests(page);
    if (name === 'readme-night') {
      await page.goto(this.url);
      await page.waitForSelector('#picture [data-part="mean"]');
      await page.waitForSelector('#main:not([aria-busy])');
      await settled(page);
      await quiet(page);
      await settled(page);
    } else {
      await page.goto(new URL('live.html', this.url).href);
      await page.getByRole('button', { name: 'Look for boards' }).click();
      await page.getByRole('button', { name: 'Start recording' }).click();
      await page.getByText(CALLED).first().waitFor();
      await page.getByText('Too early to say whether the car sleeps').waitFor();
      await page.waitForTimeout(AFTER_MS);
      // The buttons are below what is shown.
      await page.evaluate(() => scrollTo(0, 0));
    }
    return page;
  }

  /** Of a recording under way without its numbers, which go on, and without what this computer is. */
  async outline(name: 'readme-night' | 'readme-live', page: Page): Promise<string> {
    const outline = await outlineOf(page);
    if (name === 'readme-night') return outline;
    return outline
      .replaceAll(this.folder, 'FOLDER')
      .replace(/^(Room left for)\n.*$/m, '$1')
      .replace(/\d+/g, '0');
  }

  /** Writes the report of the example night. */
  report(out: string): void {
    const { status, stderr } = spawnSync(process.execPath, [PROGRAM, 'report', join(this.dir, NIGHT), '--out', out], {
      env: this.env,
      encoding: 'utf8',
    });
    if (status !== 0) throw new Error(stderr);
  }

  /** What the report shows, by the drawing that its picture is made of. */
  async outlineOfReport(): Promise<string> {
    const out = join(this.folder, 'report.svg');
    this.report(out);
    const page = await this.browser.newPage();
    await page.setContent(readFileSync(out, 'utf8'));
    return outlineOf(page);
  }

  async close(): Promise<void> {
    await this.browser.close();
    for (const child of this.children.reverse()) {
      const ended = new Promise((resolve) => child.once('exit', resolve));
      child.kill('SIGINT');
      await ended;
    }
    rmSync(this.folder, { recursive: true, force: true });
  }
}
