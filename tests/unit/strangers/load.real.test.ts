// Everything at once that somebody could send who means harm, at the real program while it
// records: cheap questions and the live stream go on, its memory stays bounded, and no
// capture of the folder is changed by a bit.
import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { createHash } from 'node:crypto';
import { copyFileSync, existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { Listener } from '../server/listener.ts';
import { writeBaseCapture } from './base-capture.ts';
import { mutate } from './mutants.ts';

const ROOT = new URL('../../..', import.meta.url).pathname;
const MAIN = join(ROOT, '.build/host/main.js');
const NORMAL_MS = 250;
const PAUSE_MS = 500;
const MEMORY_MB = 500;

let root: string, dir: string, port: number;
let server: ChildProcess, board: ChildProcess;
let listener: Listener;
let recording: string;
let said = '';

const ask = (
  path: string,
  { method = 'GET', body }: { method?: string; body?: unknown } = {},
): Promise<{ status: number; text: string; ms: number }> => {
  const begin_ms = performance.now();
  return new Promise((resolve, reject) => {
    const asking = request(
      {
        host: '127.0.0.1',
        port,
        path,
        method,
        headers: body === undefined ? {} : { origin: `http://127.0.0.1:${port}`, 'content-type': 'application/json' },
      },
      (response) => {
        let text = '';
        response
          .setEncoding('utf8')
          .on('data', (part: string) => (text += part))
          .on('end', () => resolve({ status: response.statusCode!, text, ms: performance.now() - begin_ms }));
      },
    );
    asking.on('error', reject).end(body === undefined ? undefined : JSON.stringify(body));
  });
};

async function until(holds: () => boolean | Promise<boolean>, what: string): Promise<void> {
  for (let i = 0; i < 3000; i++) {
    if (await holds()) return;
    await pause(20);
  }
  throw new Error(`waited 60 s for: ${what}; the server said: ${said}`);
}

const hashes = () =>
  new Map(
    readdirSync(dir)
      .filter((name) => !name.startsWith('.') && !name.startsWith(recording))
      .map((name) => [
        name,
        createHash('sha256')
          .update(readFileSync(join(dir, name)))
          .digest('hex'),
      ]),
  );

/** Resident memory of the server, MB (man 5 proc, statm; pages of 4096 bytes). */
const memory_MB = () => (Number(readFileSync(`/proc/${server.pid}/statm`, 'utf8').split(' ')[1]) * 4096) / 2 ** 20;

beforeAll(async () => {
  root = mkdtempSync(join(tmpdir(), 'nightdraw-load-'));
  dir = join(root, 'captures');
  mkdirSync(dir);
  for (const name of ['steady-over.nightdraw', 'wakes-often.nightdraw'])
    copyFileSync(join(ROOT, 'captures', name), join(dir, name));
  writeBaseCapture(join(dir, 'base.nightdraw'));
  for (let seed = 0; seed < 20; seed++)
    mutate(seed, join(dir, 'base.nightdraw'), join(dir, `mutant-${seed}.nightdraw`));
  const link = join(root, 'board');
  board = spawn(process.execPath, [MAIN, 'emulate', '--link', link, '--car', 'bench'], { stdio: 'ignore' });
  await until(() => existsSync(link), 'the board');
  server = spawn(process.execPath, [MAIN, 'serve', '--dir', dir, '--port', '0', '--board-port', link], {
    stdio: ['ignore', 'pipe', 'pipe'],
    env: { ...process.env, XDG_CONFIG_HOME: join(root, 'config') },
  });
  for (const stream of [server.stdout!, server.stderr!])
    stream.setEncoding('utf8').on('data', (part: string) => (said += part));
  await until(() => /The view is at http:\S+/.test(said), 'the server');
  port = Number(/The view is at http:\/\/127\.0\.0\.1:(\d+)/.exec(said)![1]);
  await ask('/api/boards/search', { method: 'POST', body: {} });
  await until(
    async () => !(JSON.parse((await ask('/api/boards')).text) as { searching: boolean }).searching,
    'the board to be found',
  );
  recording = (
    JSON.parse((await ask('/api/recordings', { method: 'POST', body: { port: link } })).text) as { name: string }
  ).name;
  listener = new Listener(port, undefined, false);
  await until(() => listener.of('readings').length > 20, 'readings');
  // Every night once, so that what is kept of it is there.
  await until(async () => !(await ask('/api/captures')).text.includes('"waiting"'), 'the list');
  for (const name of ['steady-over', 'wakes-often', 'base'])
    for (const more of ['', '/findings', '/small', '/overview?from_s=0&to_s=100&bins=4000'])
      await ask(`/api/captures/${name}.nightdraw${more}`);
}, 120_000);

afterAll(async () => {
  listener.close();
  for (const child of [server, board]) {
    const ended = new Promise((resolve) => child.once('exit', resolve));
    child.kill('SIGTERM');
    await ended;
  }
  rmSync(root, { recursive: true, force: true });
}, 60_000);

interface Felt {
  normal_ms: number;
  pause_ms: number;
  memory_MB: number;
  back: Record<string, unknown>;
}

const NORMAL = [
  '/api/captures/steady-over.nightdraw',
  '/api/recordings',
  '/api/captures?count=20',
  '/api/captures/base.nightdraw/details',
  '/',
];

/** One attack, and what everybody else feels of it meanwhile. */
async function under(attack: string): Promise<Felt> {
  const felt: Felt = { normal_ms: 0, pause_ms: 0, memory_MB: 0, back: {} };
  const attacker = spawn(
    process.execPath,
    ['--import', 'tsx', new URL('attackers.ts', import.meta.url).pathname, String(port), attack],
    { stdio: ['ignore', 'pipe', 'inherit'] },
  );
  let out = '',
    over = false;
  attacker.stdout.setEncoding('utf8').on('data', (part: string) => (out += part));
  attacker.once('exit', () => (over = true));
  const heardBefore = listener.heard.length;
  for (let i = 0; !over; i++) {
    const { status, ms } = await ask(NORMAL[i % NORMAL.length]!);
    expect(status, NORMAL[i % NORMAL.length]).toBe(200);
    felt.normal_ms = Math.max(felt.normal_ms, ms);
    felt.memory_MB = Math.max(felt.memory_MB, memory_MB());
    await pause(20);
  }
  const times_ms = listener.heard
    .slice(heardBefore - 1)
    .filter(({ name }) => name === 'readings')
    .map(({ at_ms }) => at_ms);
  felt.pause_ms = Math.max(...times_ms.slice(1).map((at_ms, i) => at_ms - times_ms[i]!));
  felt.back = JSON.parse(out) as Record<string, unknown>;
  return felt;
}

const EXPECTED: Record<string, (back: never) => void> = {
  abandoned: ({ before, after }: { before: { ms: number; status: number }; after: { ms: number; status: number } }) => {
    expect([before.status, after.status]).toEqual([200, 200]);
    // What ran as they left, and its own; not two hundred of them.
    expect(after.ms).toBeLessThan(5 * before.ms + 2000);
  },
  unread: ({ closed }: { closed: boolean }) => expect(closed).toBe(true),
  pictures: ({ answered }: { answered: number }) => expect(answered).toBe(250),
  'pictures unread': () => undefined,
  slow: () => undefined,
  bodies: ({ status, closed, ms }: { status: string; closed: boolean; ms: number }) => {
    expect([status, closed]).toEqual(['413', true]);
    expect(ms).toBeLessThan(1000);
  },
  head: ({ status }: { status: string }) => expect(status).toBe('200'),
  elsewhere: ({ leaked }: { leaked: string[] }) => expect(leaked).toEqual([]),
  reports: () => undefined,
  lists: ({ answered }: { answered: number }) => expect(answered).toBe(125),
};

test('cheap questions, the live stream, the memory and the files hold under every attack', async () => {
  const before = hashes(),
    idle_MB = memory_MB();
  const rows: string[] = [];
  const over: string[] = [];
  for (const [attack, expected] of Object.entries(EXPECTED)) {
    const felt = await under(attack);
    rows.push(
      `${attack}: normal ${felt.normal_ms.toFixed(0)} ms, live pause ${felt.pause_ms.toFixed(0)} ms, ${(felt.memory_MB - idle_MB).toFixed(0)} MB above ${idle_MB.toFixed(0)}; ${JSON.stringify(felt.back)}`,
    );
    if (felt.normal_ms > NORMAL_MS || felt.pause_ms > PAUSE_MS || felt.memory_MB - idle_MB > MEMORY_MB)
      over.push(rows.at(-1)!);
    expected(felt.back as never);
  }
  console.log(rows.join('\n'));
  expect(over).toEqual([]);
  expect(hashes()).toEqual(before);
  const stopped = await ask(`/api/recordings/${recording}/stop`, { method: 'POST', body: {} });
  expect(JSON.parse(stopped.text)).toMatchObject({ state: 'ended', line: { lost: 0, damaged: 0 } });
  expect(said.split('\n').filter((text) => text !== '' && !/The view is at/.test(text))).toEqual([]);
}, 300_000);
