// Notices as a workshop meets them: the built program, `serve` and `record` side by side,
// while the receiver fails, hangs, hangs up, is away and comes back. Each is taken once by
// the web address and shown once on the desktop, and both captures hold every window.
import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import {
  chmodSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { createServer } from 'node:http';
import type { Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { openCapture } from '../../../host/capture/read/reader.ts';
import type { NotifyEvent } from '../../../host/notify/webhook.ts';
import { ScriptedBoard } from '../recorder/scripted-board.ts';

const program = new URL('../../../.build/host/main.js', import.meta.url).pathname;
const BY_SERVE = '0000000B';

type Notice = NotifyEvent & { id: string };
type What = number | 'hang' | 'cut';

/** Answers each capture's notices by its script, then takes all. */
class Receiver {
  readonly asked: Notice[] = [];
  readonly taken: Notice[] = [];
  /** Nobody answers: each connection is dropped at once. */
  away = false;
  private server: Server | null = null;

  constructor(private readonly scripts: { record: What[]; serve: What[] }) {}

  async open(): Promise<string> {
    this.server = createServer((request, response) => {
      let body = '';
      request
        .on('data', (part: Buffer) => (body += part.toString()))
        .on('end', () => {
          const notice = JSON.parse(body) as Notice;
          this.asked.push(notice);
          const what = (notice.capture === 'bench.nightdraw' ? this.scripts.record : this.scripts.serve).shift() ?? 200;
          if (what === 'cut') request.socket.destroy();
          else if (what !== 'hang') {
            if (what < 300) this.taken.push(notice);
            response.writeHead(what).end();
          }
        });
    }).listen(0, '127.0.0.1');
    this.server.on('connection', (socket) => this.away && socket.destroy());
    await new Promise((resolve) => this.server!.once('listening', resolve));
    return `http://127.0.0.1:${(this.server.address() as AddressInfo).port}/notices`;
  }

  async close(): Promise<void> {
    const { server } = this;
    if (server === null) return;
    this.server = null;
    server.closeAllConnections();
    await new Promise((resolve) => server.close(resolve));
  }
}

const folder = mkdtempSync(join(tmpdir(), 'nightdraw-notices-'));
const boards = [10, 11].map((id) => new ScriptedBoard({ link: join(folder, `port${id}`), id }));
const receiver = new Receiver({ record: ['cut', 500, 'hang', 204], serve: [503, 'hang', 200] });
const children: ChildProcess[] = [];

afterEach(async () => {
  children.forEach((child) => child.kill('SIGKILL'));
  boards.forEach((board) => board.stop());
  await receiver.close();
  rmSync(folder, { recursive: true, force: true });
});

function nightdraw(...args: string[]): { child: ChildProcess; said: () => string } {
  const env = {
    ...process.env,
    PATH: `${join(folder, 'bin')}:${process.env['PATH'] ?? ''}`,
    XDG_CONFIG_HOME: folder,
    DBUS_SESSION_BUS_ADDRESS: 'unix:path=nowhere',
  };
  const child = spawn(process.execPath, [program, ...args], { cwd: folder, env, stdio: ['ignore', 'pipe', 'pipe'] });
  children.push(child);
  let said = '';
  for (const stream of [child.stdout, child.stderr]) stream.on('data', (bytes: Buffer) => (said += bytes.toString()));
  return { child, said: () => said };
}

async function until<T>(ask: () => T | null | undefined | false, what: () => string): Promise<T> {
  for (let i = 0; i < 1200; i++) {
    const found = ask();
    if (found !== null && found !== undefined && found !== false) return found;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  throw new Error(`waited a minute for ${what()}`);
}

/** Stands for the desktop: keeps its arguments, a line for each notice. */
function pretendDesktop(): void {
  mkdirSync(join(folder, 'bin'));
  writeFileSync(
    join(folder, 'bin/notify-send'),
    `#!/bin/sh\nprintf '%s|' "$@" >> ${folder}/shown; echo >> ${folder}/shown\n`,
  );
  chmodSync(join(folder, 'bin/notify-send'), 0o755);
}

const post = async (url: string, path: string, body: object) => {
  const answer = await fetch(new URL(path, url), {
    method: 'POST',
    headers: { origin: new URL(url).origin, 'content-type': 'application/json' },
    body: JSON.stringify(body),
  });
  return [answer.status, await answer.text()] as const;
};

/** Finds the board by the page's own routes and records it. */
async function begunInServe(url: string, port: string): Promise<string> {
  await post(url, '/api/boards/search', {});
  for (let i = 0; i < 300; i++) {
    const found = JSON.parse(await (await fetch(new URL('/api/boards', url))).text()) as {
      boards: { port: string; number: string | null }[];
    };
    if (found.boards.some((board) => board.port === port && board.number !== null)) break;
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
  const [status, text] = await post(url, '/api/recordings', { port });
  expect([status, text]).toEqual([201, expect.stringContaining(BY_SERVE)]);
  return (JSON.parse(text) as { name: string }).name;
}

/** @returns seconds in the capture, which has all that the board sent meanwhile */
function wholeSeconds(path: string, board: ScriptedBoard): number {
  const capture = openCapture(path);
  const got = capture.readings().flatMap(({ windows }) => Array.from(windows.seq));
  const { state } = capture.info();
  capture.close();
  expect(state).toBe('finished');
  const sent = board.sent.map(({ seq }) => seq);
  const first = sent.indexOf(got[0]!);
  expect(got).toEqual(sent.slice(first, first + got.length));
  return got.length / 20;
}

test('from serve and from record: each once, recordings undisturbed', async () => {
  pretendDesktop();
  const url = await receiver.open();
  const dir = join(folder, 'captures');
  mkdirSync(dir);
  // The boards tell of 12.6 V; both are to find that low.
  writeFileSync(
    join(dir, 'nightdraw.json'),
    JSON.stringify({ notify_url: url, notify_desktop: true, notify_below_V: 13 }),
  );
  const bench = join(folder, 'bench.nightdraw');
  const record = nightdraw(
    'record',
    '--port',
    join(folder, 'port10'),
    '--out',
    bench,
    '--low-volts',
    '13',
    '--notify',
    url,
    '--notify-desktop',
  );
  const serve = nightdraw('serve', '--dir', dir, '--port', '0', '--board-port', join(folder, 'port11'));
  const page = await until(
    () => /The view is at (\S+)/.exec(serve.said())?.[1],
    () => `serve: ${serve.said()}`,
  );
  const name = await begunInServe(page, join(folder, 'port11'));

  await until(
    () => receiver.taken.length === 2,
    () => `two notices: ${JSON.stringify(receiver.asked)} ${record.said()} ${serve.said()}`,
  );
  const askedSoFar = receiver.asked.length;
  receiver.away = true;
  const ended = new Promise((resolve) => record.child.once('exit', resolve));
  record.child.kill('SIGINT');
  expect((await post(page, `/api/recordings/${name}/stop`, {}))[0]).toBe(200);
  // Away, while both have something to tell.
  await until(
    () =>
      existsSync(bench) &&
      /bench\.nightdraw/.test(record.said()) &&
      readdirSync(dir).every((file) => !/^[^.].*-(wal|shm)$/.test(file)),
    () => record.said(),
  );
  receiver.away = false;
  expect(await ended).toBe(0);
  await until(
    () => receiver.taken.length === 4,
    () => `four notices: ${JSON.stringify(receiver.asked)}`,
  );
  serve.child.kill('SIGINT');
  await new Promise((resolve) => serve.child.once('exit', resolve));

  for (const capture of ['bench.nightdraw', name])
    expect(receiver.taken.filter((notice) => notice.capture === capture).map(({ event }) => event)).toEqual([
      'battery-low',
      'night-done',
    ]);
  expect(askedSoFar).toBe(4 + 3);
  expect(new Set(receiver.asked.map(({ id }) => id)).size).toBe(4);
  const shown = readFileSync(join(folder, 'shown'), 'utf8').trim().split('\n').sort();
  expect(shown.map((line) => line.split('|').slice(1, 3))).toEqual([
    ['--', 'The battery is low'],
    ['--', 'The battery is low'],
    ['--', 'The recording is done'],
    ['--', 'The recording is done'],
  ]);
  // Longer than the receiver hung, ten seconds.
  expect(wholeSeconds(bench, boards[0]!)).toBeGreaterThan(10);
  expect(wholeSeconds(join(dir, name), boards[1]!)).toBeGreaterThan(10);
}, 240_000);
