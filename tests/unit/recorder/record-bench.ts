// A folder, a scripted board and a recorder's options, fresh for each test of recording; on
// ports in memory and a clock turned by hand, or on this computer's own.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, test } from 'vitest';
import type { TestAPI } from 'vitest';
import { hostClock } from '../../../host/commands/host-clock.ts';
import type { HostClock } from '../../../host/contract/time.ts';
import type { OpenPort } from '../../../host/link/port.ts';
import { openSerialPort } from '../../../host/link/serial-port.ts';
import { realDisk } from '../../../host/recorder/disk.ts';
import { record } from '../../../host/recorder/record.ts';
import type { Progress, RecordOptions, RecordSummary } from '../../../host/recorder/record.ts';
import { VirtualTime } from '../../virtual-time.ts';
import { MemoryPorts } from './memory-ports.ts';
import { ScriptedBoard } from './scripted-board.ts';
import type { BoardOptions, Socket } from './scripted-board.ts';

export type Ways = 'virtual' | 'real';

/** Cases that a clock turned by hand says all of: through real ports in the soak alone. */
export const mostlyVirtual = (ways: Ways): TestAPI | ReturnType<TestAPI['runIf']> =>
  test.runIf(ways === 'virtual' || process.env['NIGHTDRAW_SOAK'] === '1');

interface Room {
  clock: HostClock;
  openPort: OpenPort;
  /** Absent: this computer's. */
  socket?: Socket;
  wait(ms: number): Promise<unknown>;
  until(condition: () => boolean, what: string): Promise<void>;
  over<T>(promise: Promise<T>): Promise<T>;
}

/** Longer than anything takes here: it only ends what hangs. */
const HANGS_MS = 60_000;

function realRoom(): Room {
  const wait = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));
  return {
    clock: hostClock,
    openPort: openSerialPort,
    wait,
    over: (promise) => promise,
    async until(condition, what) {
      for (let waited_ms = 0; waited_ms < HANGS_MS; waited_ms += 10) {
        if (condition()) return;
        await wait(10);
      }
      throw new Error(`waited ${HANGS_MS / 1000} s for: ${what}`);
    },
  };
}

function virtualRoom(): Room {
  const time = new VirtualTime();
  const ports = new MemoryPorts(time);
  return {
    clock: time,
    openPort: ports.openPort,
    socket: ports,
    wait: (ms) => time.pass(ms),
    until: (condition, what) => time.until(condition, what),
    over: (promise) => time.over(promise),
  };
}

export let folder: string;
export let board: ScriptedBoard | null;
export let out: string;
export let notes: string[];
export let progress: Progress[];
export let stopper: AbortController;
let room: Room;
const boards: ScriptedBoard[] = [];

/** Sets up and clears away around each test of a file. */
export function eachOnAFreshBench(ways: Ways): void {
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'nightdraw-record-'));
    out = join(folder, 'night');
    board = null;
    notes = [];
    progress = [];
    stopper = new AbortController();
    room = ways === 'real' ? realRoom() : virtualRoom();
  });
  afterEach(() => {
    for (const one of boards.splice(0)) one.stop();
    rmSync(folder, { recursive: true, force: true });
  });
}

/** A board at a port of that name in the folder. */
export function boardAt(name: string, options: Omit<BoardOptions, 'link'> = {}): ScriptedBoard {
  const made = new ScriptedBoard({ link: join(folder, name), ...options }, room.socket);
  boards.push(made);
  return made;
}

/** The board of the test, at `port`. */
export const plug = (options: Omit<BoardOptions, 'link'> = {}): ScriptedBoard => (board = boardAt('port', options));

export const clock = (): HostClock => room.clock;
export const wait = (ms: number): Promise<unknown> => room.wait(ms);
export const until = (condition: () => boolean, what: string): Promise<void> => room.until(condition, what);
/** Lets time pass until it is settled. */
export const over = <T>(promise: Promise<T>): Promise<T> => room.over(promise);
/** Records to the end. */
export const recorded = (changes: Partial<RecordOptions> = {}): Promise<RecordSummary> =>
  over(record(options(changes)));

export function options(changes: Partial<RecordOptions> = {}): RecordOptions {
  return {
    port: join(folder, 'port'),
    out,
    for_s: null,
    job: null,
    software: 'test',
    origin: null,
    signal: stopper.signal,
    clock: room.clock,
    openPort: room.openPort,
    low_V: null,
    disk: realDisk,
    listPorts: () => Promise.resolve([]),
    onProgress: (p) => progress.push(p),
    onNote: (text) => notes.push(text),
    ...changes,
  };
}

/** 200 ms that the host may be late by, in the time of a car at 40 times the speed. */
export const LATE_S = 8;
