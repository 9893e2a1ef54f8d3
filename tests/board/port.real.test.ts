// The emulated board behind its pseudo-terminal, opened by the real serialport package.
import { existsSync, lstatSync, mkdtempSync, readlinkSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { SerialPort } from 'serialport';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { getScenario } from '../../host/emulator/car/scenarios.ts';
import { startEmulatedBoard } from '../../host/emulator/emulated-port.ts';
import type { EmulatedPort, EmulatedPortOptions } from '../../host/emulator/emulated-port.ts';
import { parseLine } from '../../host/link/lines.ts';
import type { Line } from '../../host/link/lines.ts';
import { IMAGE, command } from './board-run.ts';

let folder: string;
const started: EmulatedPort[] = [];
const opened: SerialPort[] = [];

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-port-'));
});

afterEach(async () => {
  for (const port of opened.splice(0)) if (port.isOpen) await new Promise((resolve) => port.close(resolve));
  for (const board of started.splice(0)) board.close();
  rmSync(folder, { recursive: true });
});

function start(options: Partial<EmulatedPortOptions> = {}): EmulatedPort {
  const board = startEmulatedBoard({
    image: IMAGE,
    scenario: getScenario('bench')!,
    speed: 1,
    log: () => {},
    now_ms: () => performance.now(),
    ...options,
  });
  started.push(board);
  return board;
}

interface Listener {
  port: SerialPort;
  /** Whole lines; the first may be the tail of one. */
  lines: Line[];
}

function listen(path: string): Promise<Listener> {
  return new Promise((resolve, reject) => {
    let text = '';
    const listener: Listener = {
      port: new SerialPort({ path, baudRate: 500_000 }, (error) => (error ? reject(error) : resolve(listener))),
      lines: [],
    };
    opened.push(listener.port);
    // A write that meets a port gone away is told here as well as to its callback; unheard, it would end the run.
    listener.port.on('error', () => undefined);
    listener.port.on('data', (data: Buffer) => {
      text += data.toString('latin1');
      const whole = text.split('\n');
      text = whole.pop()!;
      listener.lines.push(...whole.map(parseLine));
    });
  });
}

/** Waits until it is true, for ten seconds at most: a busy computer is slow, not wrong. */
async function until(condition: () => boolean): Promise<void> {
  for (let tries = 0; tries < 500 && !condition(); tries++) await pause(20);
  expect(condition(), String(condition)).toBe(true);
}

const windowsOf = (lines: Line[]) => lines.flatMap((line) => (line.kind === 'window' ? [line] : []));

describe('the port', () => {
  test('serialport opens it by its link and hears every line for four seconds', async () => {
    const link = join(folder, 'board');
    const board = start({ link });
    const { lines } = await listen(link);
    const begun_ms = performance.now();
    await until(() => windowsOf(lines).length >= 80);
    const windows = windowsOf(lines);
    // Twenty windows a second, and never sooner.
    expect(performance.now() - begun_ms).toBeGreaterThan(3800);
    expect(windows.map((window) => window.seq)).toEqual(windows.map((_, i) => windows[0]!.seq + i));
    expect(lines.slice(1).filter((line) => line.kind === 'bad')).toEqual([]);
    expect(board.stats().open).toBe(true);
  });

  test('it gets power when it is first opened, so that a recording sees the whole night', async () => {
    const board = start();
    await pause(300);
    expect(board.stats()).toMatchObject({ device_s: 0, open: false });
    const { lines } = await listen(board.path);
    await until(() => windowsOf(lines).length > 5);
    expect(lines[0]).toMatchObject({ kind: 'hello', cause: 'power' });
    expect(windowsOf(lines)[0]!.seq).toBe(0);
  });

  test('commands reach the board and are answered; the hello declares the speed', async () => {
    const board = start({ speed: 4, id: 77 });
    const { port, lines } = await listen(board.path);
    // What is sent to a board that has not booted yet is lost.
    await until(() => board.stats().device_s > 0.1);
    port.write(command('h 5'));
    await until(() => lines.some((line) => line.kind === 'answer'));
    expect(lines.find((line) => line.kind === 'hello')).toMatchObject({ speed: 4, id: 77 });
    expect(lines.find((line) => line.kind === 'answer')).toMatchObject({ tag: 5 });
  });

  test('at speed 4 device time is at no look ahead of four times the host’s, and no window is lost', async () => {
    // The board asks for the time first when it gets power. A busy computer may leave it behind, never ahead.
    let begun_ms = NaN;
    const board = start({
      speed: 4,
      now_ms: () => ((begun_ms = Number.isNaN(begun_ms) ? performance.now() : begun_ms), performance.now()),
    });
    const { lines } = await listen(board.path);
    let ahead_s = -Infinity;
    await until(() => {
      const { device_s } = board.stats();
      if (device_s > 0) ahead_s = Math.max(ahead_s, device_s - (4 * (performance.now() - begun_ms)) / 1000);
      return device_s > 10;
    });
    // An instruction is begun before its time is up.
    expect(ahead_s).toBeLessThan(0.001);
    await until(() => windowsOf(lines).length > 190);
    const windows = windowsOf(lines);
    expect(windows.map((window) => window.seq)).toEqual(windows.map((_, i) => windows[0]!.seq + i));
  });

  test('closed and opened again, it goes on with fresh lines', async () => {
    // What is sent while nobody has it open is lost, as on a wire.
    const board = start();
    const first = await listen(board.path);
    await until(() => windowsOf(first.lines).length > 5);
    await new Promise((resolve) => first.port.close(resolve));
    const closed_s = board.stats().device_s;
    await until(() => !board.stats().open && board.stats().device_s > closed_s + 1);
    const second = await listen(board.path);
    await until(() => windowsOf(second.lines).length > 5);
    const last = windowsOf(first.lines).at(-1)!;
    const next = windowsOf(second.lines)[0]!;
    expect(next.t_us - last.t_us).toBeGreaterThan(0.8e6);
  });

  test('ending the board closes the reader’s port', async () => {
    const board = start();
    const { port } = await listen(board.path);
    const closed = new Promise((resolve) => port.once('close', resolve));
    board.close();
    // The serial library can miss that a port went away while it was being read; a write tells it, as the link knows.
    const poke = setInterval(() => port.isOpen && port.write('\n', () => undefined), 100);
    await closed;
    clearInterval(poke);
    await expect(board.ended).resolves.toBeNull();
  });

  test('the link goes with the board; a name in use is refused, a dangling link replaced', () => {
    const link = join(folder, 'board');
    const first = start({ link });
    expect(readlinkSync(link)).toBe(first.path);
    first.close();
    expect(existsSync(link) || lstatSync(link, { throwIfNoEntry: false }) !== undefined).toBe(false);
    const file = join(folder, 'notes.txt');
    writeFileSync(file, 'mine');
    expect(() => start({ link: file })).toThrow(/notes\.txt exists/);
    expect(existsSync(file)).toBe(true);
  });

  test('a speed that is no whole number is refused', () => {
    expect(() => start({ speed: 1.5 })).toThrow('speed 1.5 is not a whole number from 1 to 65535');
    expect(() => start({ speed: 0 })).toThrow(RangeError);
  });

  test('a speed beyond the computer is said, once, and the board goes on', async () => {
    const said: string[] = [];
    // A clock that runs thirty times too fast stands for a slow computer.
    const board = start({ speed: 20, log: (line) => said.push(line), now_ms: () => performance.now() * 30 });
    await listen(board.path);
    await until(() => said.length > 0);
    await pause(500);
    expect(said).toEqual([
      'emulated board: speed 20 is not kept up, this computer is too slow for it; it goes on as fast as it can',
    ]);
  });
});
