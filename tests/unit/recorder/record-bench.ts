// A folder, a scripted board and a recorder's options, fresh for each test of recording.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach } from 'vitest';
import { realDisk } from '../../../host/recorder/disk.ts';
import type { Progress, RecordOptions } from '../../../host/recorder/record.ts';
import { ScriptedBoard } from './scripted-board.ts';
import type { BoardOptions } from './scripted-board.ts';

export let folder: string;
export let board: ScriptedBoard | null;
export let out: string;
export let notes: string[];
export let progress: Progress[];
export let stopper: AbortController;

/** Sets up and clears away around each test of a file. */
export function eachOnAFreshBench(): void {
  beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-record-'));
  out = join(folder, 'night');
  board = null;
  notes = [];
  progress = [];
  stopper = new AbortController();
});
afterEach(() => {
  board?.stop();
  rmSync(folder, { recursive: true, force: true });
});

}

export const plug = (options: Omit<BoardOptions, 'link'> = {}) => (board = new ScriptedBoard({ link: join(folder, 'port'), ...options }));

export function options(changes: Partial<RecordOptions> = {}): RecordOptions {
  return {
    port: join(folder, 'port'), out, for_s: null, job: null, software: 'test', origin: null, signal: stopper.signal,
    clock: { mono_us: () => performance.now() * 1000, wall_ms: Date.now, up_s: () => performance.now() / 1000 }, low_V: null, disk: realDisk, listPorts: () => Promise.resolve([]),
    onProgress: (p) => progress.push(p), onNote: (text) => notes.push(text), ...changes,
  };
}

/** 200 ms that the host may be late by, in the time of a car at 40 times the speed. */
export const LATE_S = 8;

export const wait = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

export async function until(condition: () => boolean, what: string): Promise<void> {
  for (let i = 0; i < 1000; i++) {
    if (condition()) return;
    await wait(10);
  }
  throw new Error(`waited 10 s for: ${what}`);
}

