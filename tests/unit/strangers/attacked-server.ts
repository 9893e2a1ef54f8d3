// The real program while it records an emulated board, and attacks on it, one at a time: what
// everybody else feels meanwhile. For load.real.test.ts, which asserts what holds on any
// computer, and for the bench, which holds the durations.
import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { createHash } from 'node:crypto';
import { copyFileSync, existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { Listener } from '../server/listener.ts';
import { writeBaseCapture } from './base-capture.ts';
import { mutate } from './mutants.ts';

const ROOT = new URL('../../..', import.meta.url).pathname;
const MAIN = join(ROOT, '.build/host/main.js');

/** What everybody asks while somebody attacks. */
const NORMAL = [
  '/api/captures/steady-over.nightdraw',
  '/api/recordings',
  '/api/captures?count=20',
  '/api/captures/base.nightdraw/details',
  '/',
];

export interface Felt {
  /** The longest wait for a cheap question, and the longest pause of the live stream. */
  normal_ms: number;
  pause_ms: number;
  /** The most above what it had at rest. */
  memory_MB: number;
  /** Answers to cheap questions that were none: path and status. */
  refused: string[];
  /** What the attacker reports. */
  back: Record<string, unknown>;
}

interface Answer {
  status: number;
  text: string;
  ms: number;
}

export class AttackedServer {
  /** All that the server printed. */
  said = '';
  recording = '';
  private readonly root = mkdtempSync(join(tmpdir(), 'nightdraw-load-'));
  private readonly dir = join(this.root, 'captures');
  private port = 0;
  private server!: ChildProcess;
  private board!: ChildProcess;
  private listener!: Listener;
  private idle_MB = 0;

  async open(): Promise<void> {
    mkdirSync(this.dir);
    for (const name of ['steady-over.nightdraw', 'wakes-often.nightdraw'])
      copyFileSync(join(ROOT, 'captures', name), join(this.dir, name));
    const base = join(this.dir, 'base.nightdraw');
    writeBaseCapture(base);
    for (let seed = 0; seed < 20; seed++) mutate(seed, base, join(this.dir, `mutant-${seed}.nightdraw`));
    const link = join(this.root, 'board');
    this.board = spawn(process.execPath, [MAIN, 'emulate', '--link', link, '--car', 'bench'], { stdio: 'ignore' });
    await this.until(() => existsSync(link), 'the board');
    this.server = spawn(process.execPath, [MAIN, 'serve', '--dir', this.dir, '--port', '0', '--board-port', link], {
      stdio: ['ignore', 'pipe', 'pipe'],
      env: { ...process.env, XDG_CONFIG_HOME: join(this.root, 'config') },
    });
    for (const stream of [this.server.stdout!, this.server.stderr!])
      stream.setEncoding('utf8').on('data', (part: string) => (this.said += part));
    await this.until(() => /The view is at http:\S+/.test(this.said), 'the server');
    this.port = Number(/The view is at http:\/\/127\.0\.0\.1:(\d+)/.exec(this.said)![1]);
    await this.ask('/api/boards/search', { method: 'POST', body: {} });
    const searching = async () =>
      (JSON.parse((await this.ask('/api/boards')).text) as { searching: boolean }).searching;
    await this.until(async () => !(await searching()), 'the board to be found');
    const begun = await this.ask('/api/recordings', { method: 'POST', body: { port: link } });
    this.recording = (JSON.parse(begun.text) as { name: string }).name;
    this.listener = new Listener(this.port, undefined, false);
    await this.until(() => this.listener.of('readings').length > 20, 'readings');
    // Every night once, so that what is kept of it is there.
    await this.until(async () => !(await this.ask('/api/captures')).text.includes('"waiting"'), 'the list');
    for (const name of ['steady-over', 'wakes-often', 'base'])
      for (const more of ['', '/findings', '/small', '/overview?from_s=0&to_s=100&bins=4000'])
        await this.ask(`/api/captures/${name}.nightdraw${more}`);
    this.idle_MB = this.memory_MB();
  }

  ask(path: string, { method = 'GET', body }: { method?: string; body?: unknown } = {}): Promise<Answer> {
    const begin_ms = performance.now();
    const origin = `http://127.0.0.1:${this.port}`;
    const headers = body === undefined ? {} : { origin, 'content-type': 'application/json' };
    return new Promise((resolve, reject) => {
      const asking = request({ host: '127.0.0.1', port: this.port, path, method, headers }, (response) => {
        let text = '';
        response
          .setEncoding('utf8')
          .on('data', (part: string) => (text += part))
          .on('end', () => resolve({ status: response.statusCode!, text, ms: performance.now() - begin_ms }));
      });
      asking.on('error', reject).end(body === undefined ? undefined : JSON.stringify(body));
    });
  }

  /** One attack of attackers.ts from another process, to its end. */
  async under(attack: string): Promise<Felt> {
    const felt: Felt = { normal_ms: 0, pause_ms: 0, memory_MB: 0, refused: [], back: {} };
    const attackers = new URL('attackers.ts', import.meta.url).pathname;
    const attacker = spawn(process.execPath, ['--import', 'tsx', attackers, String(this.port), attack], {
      stdio: ['ignore', 'pipe', 'inherit'],
    });
    let out = '',
      over = false;
    attacker.stdout.setEncoding('utf8').on('data', (part: string) => (out += part));
    attacker.once('exit', () => (over = true));
    const heardBefore = this.listener.heard.length;
    for (let i = 0; !over; i++) {
      const path = NORMAL[i % NORMAL.length]!;
      const { status, ms } = await this.ask(path);
      if (status !== 200) felt.refused.push(`${path}: ${status}`);
      felt.normal_ms = Math.max(felt.normal_ms, ms);
      felt.memory_MB = Math.max(felt.memory_MB, this.memory_MB() - this.idle_MB);
      await pause(20);
    }
    const times_ms = this.listener.heard
      .slice(heardBefore - 1)
      .filter(({ name }) => name === 'readings')
      .map(({ at_ms }) => at_ms);
    felt.pause_ms = Math.max(...times_ms.slice(1).map((at_ms, i) => at_ms - times_ms[i]!));
    felt.back = JSON.parse(out) as Record<string, unknown>;
    return felt;
  }

  /** SHA-256 of every capture but the one that is recorded. */
  hashes(): Map<string, string> {
    const names = readdirSync(this.dir).filter((name) => !name.startsWith('.') && !name.startsWith(this.recording));
    const hash = (name: string) =>
      createHash('sha256')
        .update(readFileSync(join(this.dir, name)))
        .digest('hex');
    return new Map(names.map((name) => [name, hash(name)]));
  }

  async close(): Promise<void> {
    this.listener.close();
    for (const child of [this.server, this.board]) {
      const ended = new Promise((resolve) => child.once('exit', resolve));
      child.kill('SIGTERM');
      await ended;
    }
    rmSync(this.root, { recursive: true, force: true });
  }

  /** Resident (man 5 proc, statm; pages of 4096 bytes). */
  private memory_MB(): number {
    return (Number(readFileSync(`/proc/${this.server.pid}/statm`, 'utf8').split(' ')[1]) * 4096) / 2 ** 20;
  }

  private async until(holds: () => boolean | Promise<boolean>, what: string): Promise<void> {
    for (let i = 0; i < 3000; i++) {
      if (await holds()) return;
      await pause(20);
    }
    throw new Error(`waited 60 s for: ${what}; the server said: ${this.said}`);
  }
}
