// One recording from the server in virtual time: how late the live stream is, what it says
// while a cable is out, and how it ends.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { openCapture } from '../../../host/capture/read/reader.ts';
import { realDisk } from '../../../host/recorder/disk.ts';
import { record } from '../../../host/recorder/record.ts';
import type { LiveEventName, LiveStep, Recording } from '../../../host/contract/api.ts';
import { OneRecording } from '../../../host/server/live/one-recording.ts';
import { VirtualTime } from '../../virtual-time.ts';
import { MemoryPorts } from '../recorder/memory-ports.ts';
import { ScriptedBoard } from '../recorder/scripted-board.ts';
import type { BoardOptions } from '../recorder/scripted-board.ts';

let folder: string;
let time: VirtualTime;
let ports: MemoryPorts;
let board: ScriptedBoard;
let events: { name: LiveEventName; data: unknown; at_us: number }[];

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-one-'));
  time = new VirtualTime();
  ports = new MemoryPorts(time);
  events = [];
});
afterEach(() => {
  board.stop();
  rmSync(folder, { recursive: true, force: true });
});

function begun(options: Omit<BoardOptions, 'link'> = {}): OneRecording {
  board = new ScriptedBoard({ link: 'port', ...options }, ports);
  return new OneRecording(
    {
      name: 'night.nightdraw',
      path: join(folder, 'night.nightdraw'),
      board: { port: 'port', number: '000B0A4D', speed: 1 },
      job: 'J',
      personal: {},
      for_s: null,
      bay: null,
    },
    {
      find: () => Promise.resolve([]),
      record: (request) =>
        record({
          ...request,
          origin: null,
          software: 'test',
          low_V: null,
          disk: realDisk,
          listPorts: () => Promise.resolve([]),
          clock: time,
          openPort: ports.openPort,
        }),
      prove: () => Promise.reject(new Error('nobody proves a board here')),
      free_bytes: () => 1e9,
    },
    (name, data) => events.push({ name, data, at_us: time.now_us() }),
    time,
  );
}

const of = <T>(name: LiveEventName) =>
  events.filter((event) => event.name === name).map(({ data, at_us }) => ({ data: data as T, at_us }));
const states = () => of<Recording>('status').map(({ data }) => data.state);

test('each window is in the stream within 100 ms of its end, and a step is called out', async () => {
  const one = begun({ current_uA: (window) => (window < 100 ? 400_000 : 150_000) });
  const booted_us = time.now_us();
  await time.over(one.started);
  await time.until(() => of('step').length > 0, 'the step');
  expect(of<{ name: string; step: LiveStep }>('step')[0]!.data).toMatchObject({
    name: 'night.nightdraw',
    step: { from_mA: 400, to_mA: 150 },
  });
  await time.pass(5000);
  one.stop();
  await time.over(one.over);
  expect(one.now()).toMatchObject({
    state: 'ended',
    trouble: null,
    line: { lost: 0, damaged: 0, goodShare: 1 },
    voltage_V: 12.6,
  });

  const capture = openCapture(join(folder, 'night.nightdraw'));
  const first_us = booted_us + capture.readings()[0]!.windows.seq[0]! * 50_000;
  capture.close();
  const lags_ms = of<{ windows: number[][] }>('readings').flatMap(({ data, at_us }) =>
    data.windows.map(([to_s]) => (at_us - first_us) / 1000 - to_s! * 1000),
  );
  expect(lags_ms.length).toBeGreaterThan(150);
  // The first ones waited for the hello.
  expect(Math.max(...lags_ms.slice(20))).toBeLessThan(100);
  expect(Math.min(...lags_ms)).toBeGreaterThan(-1);
});

test('a cable that is out is told within three seconds, ten minutes of it keep the recording, and it goes on', async () => {
  const one = begun();
  await time.over(one.started);
  await time.pass(2000);
  board.unplug();
  const out_us = time.now_us();
  await time.until(() => states().at(-1) === 'away', 'away');
  expect((time.now_us() - out_us) / 1e6).toBeLessThan(3);
  await time.pass(600_000);
  expect(one.now()).toMatchObject({ state: 'away', line: { silent_s: expect.closeTo(602, -1) as number } });
  board.plug();
  await time.until(() => states().at(-1) === 'recording', 'recording again');
  expect(
    one
      .now()
      .notes.map(({ text }) => text)
      .join(' '),
  ).toMatch(/is away.*is back and kept its power/);
  one.stop();
  await time.over(one.over);
  const capture = openCapture(join(folder, 'night.nightdraw'));
  expect(capture.trace().gaps.map(({ charge_mAh }) => charge_mAh)).toEqual([expect.closeTo(1.68, 1)]);
  capture.close();
});

test('left by a server that stops, the capture is unfinished; a board that is not there fails in words without a path', async () => {
  const one = begun();
  await time.over(one.started);
  await time.pass(2000);
  one.leave();
  await time.over(one.over);
  expect(one.now()).toMatchObject({ state: 'ended', trouble: null });
  const capture = openCapture(join(folder, 'night.nightdraw'));
  expect(capture.info().state).toBe('recording');
  capture.close();
  rmSync(join(folder, 'night.nightdraw'));
  board.unplug();
  const other = begunWithout();
  await time.over(other.over);
  expect(other.now()).toMatchObject({ state: 'failed', trouble: expect.stringContaining('is not there') as string });
  expect(other.now().trouble).not.toContain(folder);
});

/** The same without a board at its port. */
function begunWithout(): OneRecording {
  const before = board;
  const one = begun();
  board.stop();
  board = before;
  return one;
}
