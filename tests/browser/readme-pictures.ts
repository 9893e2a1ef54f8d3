// Takes the pictures of README.md: the example night in the page as built, a recording of an
// emulated board that is under way, and the report. Run by hand after `npm run build`, with
// `node --import tsx tests/browser/readme-pictures.ts`.

import { spawn, spawnSync } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { cpSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';
import { CHROMIUM, FLAGS } from './page.ts';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const PLACE = join(ROOT, 'tests/browser/gallery');
const NIGHT = 'wakes-often.nightdraw';
/** Until the recording shows something: the bench car switches a load every few seconds. */
const RECORDED_MS = 50_000;

const folder = mkdtempSync(join(tmpdir(), 'nightdraw-pictures-'));
const [dir, port] = [join(folder, 'captures'), join(folder, 'board')];
mkdirSync(dir);
cpSync(join(ROOT, 'captures', NIGHT), join(dir, NIGHT));
const program = join(ROOT, '.build/host/main.js');
const children: ChildProcess[] = [];

async function leftRunning(args: string[], ready: RegExp): Promise<string> {
  const child = spawn(process.execPath, [program, ...args], { env: { ...process.env, XDG_CONFIG_HOME: folder }, stdio: ['ignore', 'pipe', 'inherit'] });
  children.push(child);
  let said = '';
  for await (const bytes of child.stdout) {
    const found = ready.exec(said += String(bytes));
    if (found !== null) return found[1] ?? '';
  }
  throw new Error(`${args.join(' ')} ended: ${said}`);
}

await leftRunning(['emulate', '--link', port, '--car', 'bench'], /is at /);
const url = await leftRunning(['serve', '--dir', dir, '--port', '0', '--board-port', port], /The view is at (\S+)/);
const browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS, headless: true });
const page = await browser.newPage({ viewport: { width: 1180, height: 1060 } });
await page.goto(url);
await page.waitForSelector('#picture svg');
await page.waitForSelector('#events li');
await page.waitForTimeout(1500);
await page.screenshot({ path: join(PLACE, 'readme-night.png') });

await page.setViewportSize({ width: 1180, height: 860 });
await page.goto(new URL('live.html', url).href);
await page.getByRole('button', { name: /look for boards/i }).click();
await page.getByRole('button', { name: /^(record|start|begin)/i }).first().click();
await page.waitForTimeout(RECORDED_MS);
await page.screenshot({ path: join(PLACE, 'readme-live.png') });
await browser.close();
for (const child of children.reverse()) {
  child.kill('SIGINT');
  await new Promise((resolve) => child.once('exit', resolve));
}
spawnSync(process.execPath, [program, 'report', join(dir, NIGHT), '--out', join(PLACE, 'readme-report.png')], { stdio: 'inherit' });
rmSync(folder, { recursive: true, force: true });
