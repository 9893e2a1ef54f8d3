// What is told of a recording from the server, from the board's wire to the notice: a scripted
// board at a port in memory, the recorder, the workbench, and hours that pass at once.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { openCapture } from '../../../host/capture/read/reader.ts';
import { workbench } from '../../../host/commands/workbench.ts';
import type { Computer } from '../../../host/commands/workbench.ts';
import type { KnownBoard } from '../../../host/link/known-boards.ts';
import type { NotifyEvent } from '../../../host/notify/webhook.ts';
import { realDisk, STOP_BELOW_BYTES } from '../../../host/recorder/disk.ts';
import { OneRecording } from '../../../host/server/live/one-recording.ts';
import { VirtualTime } from '../../virtual-time.ts';
import { MemoryPorts } from '../recorder/memory-ports.ts';
import { ScriptedBoard } from '../recorder/scripted-board.ts';

/** The board tells of 12.6 V. */
const BELOW_V = 12;

let folder: string, time: VirtualTime, port: string, board: ScriptedBoard, free_bytes: number;
let told: NotifyEvent[], awake: number, remembered: KnownBoard[];

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-told-'));
  time = new VirtualTime();
  port = join(folder, 'port');
  free_bytes = 1e12;
  told = [];
  awake = 0;
  remembered = [];
});
afterEach(() => {
  board.stop();
  rmSync(folder, { recursive: true });
});

/** Records a fresh board as the server does. */
function begun(for_s: number | null = null, below_V = BELOW_V): OneRecording {
  const ports = new MemoryPorts(time);
  board = new ScriptedBoard({ link: port }, ports);
  const computer: Computer = {
    clock: time,
    openPort: ports.openPort,
    listPorts: () => Promise.resolve([]),
    disk: { ...realDisk, free: () => free_bytes },
    keepAwake: () => (awake++, { stop: () => void awake-- }),
    warnings: () => ['it runs on its battery'],
    remember: (known) => remembered.push(known),
  };
  const bench = workbench(computer, [port], { notices: { tell: (event) => told.push(event) }, below_V });
  return new OneRecording(
    {
      name: 'monday.nightdraw',
      path: join(folder, 'monday.nightdraw'),
      board: { number: '000B0A4D', port, speed: 1 },
      job: '',
      personal: {},
      for_s,
      bay: null,
    },
    bench,
    () => undefined,
    time,
  );
}

/** The same, until it is under way. */
async function recording(for_s: number | null = null, below_V = BELOW_V): Promise<OneRecording> {
  const night = begun(for_s, below_V);
  await time.over(night.started);
  expect([night.now().trouble, awake]).toEqual([null, 1]);
  expect(night.now().notes.map(({ text }) => text)).toContain('it runs on its battery');
  return night;
}

const events = () => told.map(({ event }) => event);
const secondsPass = (s: number) => time.pass(s * 1000);

/** Ends it, and is what was told then, in all. */
async function ended(night: OneRecording): Promise<string[]> {
  night.stop();
  await time.over(night.over);
  expect([night.now().state, awake]).toEqual(['ended', 0]);
  return events();
}

describe('a board that is silent', () => {
  const WAYS: [string, () => void, () => void][] = [
    ['unplugged', () => board.unplug(), () => board.plug()],
    ['says nothing more, its cable in', () => (board.talks = false), () => (board.talks = true)],
    ['answers, and measures nothing', () => (board.measures = false), () => (board.measures = true)],
  ];

  test.each(WAYS)('%s: told once after a minute, and again only when it was back', async (_, fall, back) => {
    const night = await recording();
    await secondsPass(5);
    fall();
    await secondsPass(59);
    expect(events()).toEqual([]);
    // It looks twice a second.
    await secondsPass(2);
    expect(told).toEqual([
      {
        event: 'board-silent',
        capture: 'monday.nightdraw',
        sentence: 'The board has measured nothing for a minute; look at its cable and power.',
      },
    ]);
    await secondsPass(300);
    expect(told).toHaveLength(1);
    back();
    // Away for so long, it is looked for every two seconds.
    await secondsPass(10);
    fall();
    await secondsPass(59);
    expect(told).toHaveLength(1);
    await secondsPass(2);
    expect(events()).toEqual(['board-silent', 'board-silent']);
    back();
    await secondsPass(10);
    expect(await ended(night)).toEqual(['board-silent', 'board-silent', 'night-done']);
  });

  test.each(WAYS)('%s for 59 seconds: nothing is told', async (_, fall, back) => {
    const night = await recording();
    await secondsPass(5);
    fall();
    await secondsPass(59);
    back();
    await secondsPass(59);
    expect(await ended(night)).toEqual(['night-done']);
  });
});

describe('how it ends', () => {
  test('when its time is up: the night is done, with what is in it', async () => {
    const night = await recording(60);
    await time.over(night.over);
    expect(night.now().state).toBe('ended');
    expect(told).toEqual([
      {
        event: 'night-done',
        capture: 'monday.nightdraw',
        sentence: expect.stringMatching(/^monday\.nightdraw: 0:01:00 recorded, 1200 windows/) as string,
      },
    ]);
    expect(awake).toBe(0);
    // At the beginning and at the end.
    expect(remembered.at(-1)).toMatchObject({ id: 0xb0a4d, path: port });
  });

  test('by a full disk: it has stopped, told once, and what came is kept unfinished', async () => {
    const night = await recording();
    await secondsPass(10);
    free_bytes = STOP_BELOW_BYTES;
    await secondsPass(10);
    expect(events()).toEqual([]);
    free_bytes = STOP_BELOW_BYTES - 1;
    await time.over(night.over);
    expect([night.now().state, awake]).toEqual(['failed', 0]);
    expect(told).toEqual([
      {
        event: 'recording-stopped',
        capture: 'monday.nightdraw',
        sentence: expect.stringMatching(/^recording ended: 8 MB are left on the disk of monday\.nightdraw; /) as string,
      },
    ]);
    const capture = openCapture(join(folder, 'monday.nightdraw'));
    expect(capture.info()).toMatchObject({ state: 'recording' });
    expect(capture.info().duration_s).toBeGreaterThan(20);
    capture.close();
    await secondsPass(300);
    expect(told).toHaveLength(1);
  });

  test('left unfinished by the server, to be gone on with: nothing is told', async () => {
    const night = await recording();
    await secondsPass(10);
    night.leave();
    await time.over(night.over);
    expect([night.now().state, night.now().trouble, awake, events()]).toEqual(['ended', null, 0, []]);
    const capture = openCapture(join(folder, 'monday.nightdraw'));
    expect(capture.info().state).toBe('recording');
    capture.close();
  });

  test('before it began: whoever asked is there, and nothing is told', async () => {
    free_bytes = 0;
    const night = begun();
    await time.over(night.over);
    expect(night.now()).toMatchObject({
      state: 'failed',
      trouble: expect.stringMatching(/^monday\.nightdraw cannot be recorded: 0 MB are free/) as string,
    });
    expect([awake, events()]).toEqual([0, []]);
  });
});

test('a low battery is told at once, and once', async () => {
  const night = await recording(null, 13);
  await secondsPass(60);
  expect(told).toEqual([
    { event: 'battery-low', capture: 'monday.nightdraw', sentence: 'The battery is down to 12.60 V (limit 13.00 V).' },
  ]);
  expect(await ended(night)).toEqual(['battery-low', 'night-done']);
});
