// Serves a folder of invented nights and the page as built through the real server, and
// opens it in Debian's chromium.

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { chromium } from 'playwright-core';
import type { Browser, Page } from 'playwright-core';
import { hostClock } from '../../host/commands/host-clock.ts';
import type { Findings } from '../../host/contract/findings.ts';
import { importCsv } from '../../host/capture/exchange/csv.ts';
import { reportsInThreads } from '../../host/commands/reports.ts';
import { serve } from '../../host/server/serve.ts';
import type { Serving } from '../../host/server/serve.ts';
import { inThreads } from '../../host/server/reading/crew.ts';
import type { Readers } from '../../host/server/reading/desk.ts';

export const CHROMIUM = '/usr/bin/chromium-headless-shell';
/** Built once for all tests, before the first. */
const PAGE = new URL('../../.build/web', import.meta.url).pathname;
export const FLAGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

export interface Stage {
  serving: Serving;
  browser: Browser;
  /** Where the captures lie. */
  captures: string;
  /** What the page and the server complained about, until now. */
  complaints: string[];
  /** A page of this width with the capture open and drawn. */
  open(
    capture: string,
    width_px: number,
    options?: { dark?: boolean; height_px?: number; touch?: boolean },
  ): Promise<Page>;
  close(): Promise<void>;
}

/**
 * @param files content by file name; where a job is given the CSV is imported into a capture
 * @param known findings that stand in for the analysis, by file name
 */
export async function setStage(
  files: Record<string, string | { csv: string; job: string }>,
  known: Record<string, Findings> = {},
): Promise<Stage> {
  const dir = mkdtempSync(join(tmpdir(), 'nightdraw-browser-'));
  const captures = mkdtempSync(join(dir, 'captures-'));
  for (const [name, content] of Object.entries(files)) {
    const path = join(captures, name);
    if (typeof content === 'string') writeFileSync(path, content);
    else {
      const source = join(dir, 'source.csv');
      writeFileSync(source, content.csv);
      await importCsv(source, path, { software: 'test', created_ms: 0, job: content.job });
    }
  }
  const complaints: string[] = [];
  const real = inThreads((line) => complaints.push(`server: ${line}`));
  const readers: Readers = {
    ...real,
    findings: (file, options) => {
      const findings = known[basename(file.path)];
      return findings === undefined ? real.findings(file, options) : Promise.resolve(findings);
    },
  };
  const serving = await serve({
    checksAnswers: true,
    clock: hostClock,
    dir: captures,
    port: 0,
    pageDir: PAGE,
    log: (line) => complaints.push(`server: ${line}`),
    readers,
    makeReport: reportsInThreads({}, []),
  });
  const browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS, headless: true });
  return {
    serving,
    browser,
    captures,
    complaints,
    async open(capture, width_px, { dark = false, height_px = 900, touch = false } = {}) {
      const context = await browser.newContext({
        viewport: { width: width_px, height: height_px },
        colorScheme: dark ? 'dark' : 'light',
        reducedMotion: 'reduce',
        hasTouch: touch,
      });
      const page = await context.newPage();
      page.setDefaultTimeout(60_000);
      watchRequests(page);
      page.on('console', (message) => {
        if (message.type() === 'error' || message.type() === 'warning') complaints.push(`console: ${message.text()}`);
      });
      page.on('pageerror', (error) => complaints.push(`page: ${error.message}`));
      await page.goto(`${serving.url}#${encodeURIComponent(capture)}`);
      await page.waitForSelector('#picture [data-part="mean"]');
      // The picture may come before its meaning.
      await page.waitForSelector('#main:not([aria-busy])');
      await settled(page);
      return page;
    },
    async close() {
      await browser.close();
      await serving.close();
      rmSync(dir, { recursive: true, force: true });
    },
  };
}

/** Opens what stands behind its heading, as a click on it does; `id` of the part. */
export async function unfold(page: Page, id: string): Promise<void> {
  const part = page.locator(`#${id} details.fold`);
  if ((await part.getAttribute('open')) === null) await part.locator('> summary').click();
}

const QUIET_MS = 500;
const underWay = new WeakMap<Page, { requests: Set<unknown>; since_ms: number }>();

/** Counts from now on what the page asks for; the stream, which never ends, is not among it. */
export function watchRequests(page: Page): void {
  const known = { requests: new Set<unknown>(), since_ms: performance.now() };
  underWay.set(page, known);
  page.on('request', (request) => {
    if (!/\/api\/live\b/.test(request.url())) known.requests.add(request);
  });
  const over = (request: unknown) => {
    if (known.requests.delete(request)) known.since_ms = performance.now();
  };
  page.on('requestfinished', over);
  page.on('requestfailed', over);
}

/** Waits until the page has asked for nothing for half a second. */
export async function quiet(page: Page): Promise<void> {
  const known = underWay.get(page)!;
  while (known.requests.size > 0 || performance.now() - known.since_ms < QUIET_MS) await page.waitForTimeout(50);
}

/** Waits until the finer readings are there and drawn. */
export async function settled(page: Page): Promise<void> {
  const frames = () =>
    page.evaluate(() => new Promise((resolve) => requestAnimationFrame(() => requestAnimationFrame(resolve))));
  await frames();
  await page.waitForSelector('#picture:not([aria-busy])');
  await frames();
}
