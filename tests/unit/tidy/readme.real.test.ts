// Every command that README.md gives is run, in the order it stands there, as a
// newcomer would, in a copy of the built program with the examples beside it.
import { spawn, spawnSync } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, statSync, symlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';

/** What a fresh clone runs to come to this test; within it they would run it again. */
const STARTED_THIS_RUN = ['npm ci', 'npm test'];

const root = new URL('../../..', import.meta.url).pathname;
const readme = readFileSync(join(root, 'README.md'), 'utf8');
const commands = [...readme.matchAll(/```sh\n([\s\S]*?)```/g)]
  .flatMap(([, block]) => block!.split('\n'))
  .map((line) => line.trim())
  .filter((line) => line !== '' && !STARTED_THIS_RUN.includes(line));

/** Another home would have neither: npm's cache, and where packages come from. */
const ofNpm = Object.fromEntries(
  ['cache', 'userconfig'].map((key) => [
    `npm_config_${key}`,
    spawnSync('npm', ['config', 'get', key], { encoding: 'utf8' }).stdout.trim(),
  ]),
);

let copy: string;
/** A home of its own, and first on the path what is installed for everybody. */
const env = () => ({
  ...process.env,
  ...ofNpm,
  ROOT: root,
  HOME: join(copy, 'home'),
  PATH: `${join(copy, 'global/bin')}:${process.env['PATH'] ?? ''}`,
});
const running: ChildProcess[] = [];

beforeAll(() => {
  copy = mkdtempSync(join(tmpdir(), 'nightdraw-readme-'));
  for (const entry of ['package.json', '.build']) cpSync(join(root, entry), join(copy, entry), { recursive: true });
  mkdirSync(join(copy, 'tests/reference'), { recursive: true });
  cpSync(join(root, 'tests/reference/data'), join(copy, 'tests/reference/data'), { recursive: true });
  mkdirSync(join(copy, 'captures'));
  mkdirSync(join(copy, 'tmp'));
  cpSync(join(root, 'host/bay/examples'), join(copy, 'host/bay/examples'), { recursive: true });
  symlinkSync(join(root, 'node_modules'), join(copy, 'node_modules'));
});

afterAll(async () => {
  for (const child of running) {
    const gone = new Promise((resolve) => child.once('exit', resolve));
    if (child.exitCode !== null) continue;
    // The whole group, as Ctrl-C in a terminal would.
    process.kill(-child.pid!, 'SIGINT');
    await gone;
  }
  rmSync(copy, { recursive: true, force: true });
});

/** The temporary folder of this run alone: two checkouts are tested at once, and neither finds what the other left. */
const here = (command: string) => (INSTEAD[command] ?? command).replaceAll('/tmp/', `${join(copy, 'tmp')}/`);

/** Runs to the end; these are commands that end by themselves. */
function run(command: string): { code: number | null; out: string; err: string } {
  const { status, stdout, stderr } = spawnSync('bash', ['-c', command], {
    cwd: copy,
    env: env(),
    encoding: 'utf8',
    timeout: 600_000,
  });
  return { code: status, out: stdout, err: stderr };
}

/** Starts and leaves running, once it has said `ready`. */
async function leaveRunning(command: string, ready: RegExp): Promise<void> {
  const child = spawn('bash', ['-c', command], {
    cwd: copy,
    env: env(),
    detached: true,
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  running.push(child);
  await new Promise<void>((resolve, reject) => {
    let said = '';
    const listen = (bytes: Buffer) => {
      said += bytes.toString();
      if (ready.test(said)) resolve();
    };
    child.stdout.on('data', listen);
    child.stderr.on('data', listen);
    child.on('exit', (code) => reject(new Error(`${command} ended with ${code}: ${said}`)));
  });
}

const RUNS_ON = /-- (serve|emulate)\b/;
const NEEDS_BOARD = /\/dev\/ttyUSB0/;
const NEEDS_NIGHT = /captures\/(monday|tuesday)\.nightdraw/;

/** What differs here: packing need not build again, nothing is installed outside of the copy, and
 *  what npm compiles is packed.test.ts's to try. */
const INSTEAD: Record<string, string> = {
  'npm pack': `npm pack --ignore-scripts --loglevel error "$ROOT"`,
  // The car's 90 seconds in fewer of ours.
  'npm run -s nightdraw -- emulate --link /tmp/nightdraw-board --car bench':
    'npm run -s nightdraw -- emulate --link /tmp/nightdraw-board --car bench --speed 8',
  'npm install -g ./nightdraw-0.1.0.tgz':
    'npm install -g ./nightdraw-0.1.0.tgz --prefix global --prefer-offline --ignore-scripts --loglevel error',
};

/** A busy computer may hold a recorder up for seconds: told, and no fault. */
const STOOD_STILL = /^\d\d:\d\d:\d\d  this computer stood still.*\n/gm;

describe('README commands', () => {
  test('there are some', () => {
    expect(commands.length).toBeGreaterThan(8);
  });

  for (const [i, command] of commands.entries()) {
    test(`${i + 1}: ${command}`, async () => {
      if (command === 'npm start') {
        // Built already, and on any free port: otherwise the same program.
        await leaveRunning('node .build/host/main.js start --port 0', /The view is at http:\/\/127\.0\.0\.1:\d+\//);
        return;
      }
      if (NEEDS_BOARD.test(command)) {
        // No board here: the command must say so in one line, and leave nothing behind.
        const { code, err } = run(here(command));
        expect(code).toBe(1);
        expect(err.trim().split('\n')).toHaveLength(1);
        expect(err).toMatch(/^nightdraw: \/dev\/ttyUSB0 is not there/);
        return;
      }
      if (NEEDS_NIGHT.test(command)) {
        expect(
          run(here(command).replace(new RegExp(NEEDS_NIGHT, 'g'), join(root, 'captures/wakes-often.nightdraw'))),
        ).toMatchObject({ code: 0, err: '' });
        return;
      }
      if (RUNS_ON.test(command)) {
        await leaveRunning(
          /-- serve\b/.test(command) ? `${here(command)} --port 0` : here(command),
          /(The view|An emulated board) .* is at |The view is at /,
        );
        return;
      }
      // These say nothing where all is well.
      if (command.startsWith('mkdir ') || command.includes(' > ~/')) {
        expect(run(here(command))).toEqual({ code: 0, out: '', err: '' });
        if (command.includes(' > ~/'))
          expect(statSync(join(copy, 'home', command.split(' > ~/')[1]!)).size).toBeGreaterThan(1000);
        return;
      }
      const { code, out, err } = run(here(command));
      // A recorder says on stderr how far it is, and what to mind; anything else there would be a complaint.
      expect({
        code,
        err: err.replace(/^(recorded |! | {2}|nightdraw: In the morning: ).*\n/gm, '').replace(STOOD_STILL, ''),
      }).toEqual({ code: 0, err: '' });
      expect(out.length).toBeGreaterThan(5);
    });
  }
});
