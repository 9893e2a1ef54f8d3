// The real `serve` command on a folder of its own, and its pages in Debian's chromium.
// Server and page are as built: `npm test` builds first.

import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { chromium } from 'playwright-core';
import type { Browser, BrowserContextOptions, Page } from 'playwright-core';
import { quietPort } from '../quiet-port.ts';
import { CHROMIUM, FLAGS } from './page.ts';

const MAIN = new URL('../../.build/host/main.js', import.meta.url).pathname;

export class ServedStage {
  readonly root = mkdtempSync(join(tmpdir(), 'nightdraw-served-'));
  readonly captures = join(this.root, 'captures');
  /** Device paths that the server is told of. */
  readonly ports: string[] = [];
  /** What pages complained about. While the server is away its absence is no complaint. */
  readonly complaints: string[] = [];
  browser!: Browser;
  url = '';
  /** What the servers wrote. */
  output = '';
  private server: ChildProcess | null = null;
  private away = true;

  constructor(private readonly path: string) {
    mkdirSync(this.captures);
  }

  async launch(): Promise<void> {
    this.browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS, headless: true });
  }

  /** Resolves when it answers. @param asked none at first; the same again afterwards, as a bookmark has it */
  async serve(asked?: number, more: string[] = []): Promise<void> {
    const port = asked ?? (await quietPort());
    const env = { ...process.env, XDG_CONFIG_HOME: join(this.root, 'config') };
    const boardPorts = this.ports.flatMap((path) => ['--board-port', path]);
    const server = (this.server = spawn(
      process.execPath,
      [MAIN, 'serve', '--dir', this.captures, '--port', String(port), ...boardPorts, ...more],
      { stdio: ['ignore', 'pipe', 'pipe'], env },
    ));
    let text = '';
    for (const stream of [server.stdout, server.stderr])
      stream.setEncoding('utf8').on('data', (part: string) => {
        text += part;
        this.output += part;
      });
    for (let tries = 0; tries < 600; tries++) {
      const url = /The view is at (http:\S+)/.exec(text)?.[1];
      if (url !== undefined) {
        this.url = url;
        // What a page found while nothing listened may be told a moment later.
        await pause(500);
        this.away = false;
        return;
      }
      if (server.exitCode !== null) break;
      await pause(50);
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
    this.away = true;
    if (server === null || server.exitCode !== null) return;
    const ended = new Promise((resolve) => server.once('exit', resolve));
    server.kill(signal);
    await ended;
  }

  async page(
    width_px: number,
    options: BrowserContextOptions & { height_px?: number; dark?: boolean; path?: string; init?: (() => void)[] } = {},
  ): Promise<Page> {
    const { height_px = 900, dark = false, path = this.path, init = [], ...more } = options;
    const context = await this.browser.newContext({
      viewport: { width: width_px, height: height_px },
      colorScheme: dark ? 'dark' : 'light',
      reducedMotion: 'reduce',
      ...more,
    });
    for (const script of init) await context.addInitScript(script);
    const page = await context.newPage();
    page.setDefaultTimeout(60_000);
    page.on('console', (message) => {
      if ((message.type() === 'error' || message.type() === 'warning') && !this.away)
        this.complaints.push(`console: ${message.text()}`);
    });
    page.on('pageerror', (error) => this.complaints.push(`page: ${error.message}`));
    await page.goto(`${this.url}${path}`);
    return page;
  }

  async close(): Promise<void> {
    await this.browser.close();
    await this.kill('SIGTERM');
    rmSync(this.root, { recursive: true, force: true });
  }
}
