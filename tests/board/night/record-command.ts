// The real `record` command as a process of its own, its progress read from a
// terminal as a user reads it, its wall clock set from outside.
import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { closeSync, openSync } from 'node:fs';
import { PseudoTerminal } from '../../../host/emulator/pseudo-terminal.ts';

const PROGRAM = new URL('../../../.build/host/main.js', import.meta.url).pathname;
const CLOCK = new URL('./stepped-clock.mjs', import.meta.url).pathname;

export interface RecordArguments {
  port: string;
  out: string;
  for?: string;
  more?: string[];
  /** A file that holds how far the wall clock was set, in milliseconds. */
  clockFile?: string;
}

export class RecordCommand {
  /** All that it wrote on its terminal. */
  said = '';
  printed = '';
  /** Up to which second it said that all is on the disk; -1 before it said anything. */
  acknowledged_s = -1;
  acknowledged_ms = -1;
  code: number | null = null;
  over = false;
  readonly ended: Promise<void>;
  private readonly child: ChildProcess;

  constructor({ port, out, for: length, more = [], clockFile }: RecordArguments) {
    const screen = new PseudoTerminal();
    const fd = openSync(screen.path, 'r+');
    const preload = clockFile === undefined ? [] : ['--import', CLOCK];
    this.child = spawn(
      process.execPath,
      [
        ...preload,
        PROGRAM,
        'record',
        '--port',
        port,
        '--out',
        out,
        ...(length === undefined ? [] : ['--for', length]),
        ...more,
      ],
      {
        stdio: ['ignore', 'pipe', fd],
        env: { ...process.env, CLOCK_FILE: clockFile ?? '' },
      },
    );
    closeSync(fd);
    this.child.stdout!.on('data', (chunk: Buffer) => (this.printed += chunk.toString()));
    const look = setInterval(() => this.look(screen), 10);
    this.ended = new Promise((resolve) => {
      this.child.on('close', (code) => {
        clearInterval(look);
        this.look(screen);
        screen.close();
        this.code = code;
        this.over = true;
        resolve();
      });
    });
  }

  private look(screen: PseudoTerminal): void {
    for (let text = screen.receive(); text.length > 0; text = screen.receive()) this.said += text.toString('latin1');
    const last = [...this.said.matchAll(/recorded (\d+):(\d\d):(\d\d), up to/g)].at(-1);
    if (last === undefined) return;
    const seconds = Number(last[1]) * 3600 + Number(last[2]) * 60 + Number(last[3]);
    if (seconds !== this.acknowledged_s) this.acknowledged_ms = performance.now();
    this.acknowledged_s = seconds;
  }

  /** Its notes and its last word, without the progress. */
  get notes(): string[] {
    return this.said
      .split(/[\r\n]+/)
      .map((line) => line.replace(/^\u001b\[K/, ''))
      .filter((line) => line !== '' && !line.startsWith('recorded '));
  }

  async kill(): Promise<void> {
    this.child.kill('SIGKILL');
    await this.ended;
  }

  async stop(): Promise<void> {
    this.child.kill('SIGINT');
    await this.ended;
  }
}
