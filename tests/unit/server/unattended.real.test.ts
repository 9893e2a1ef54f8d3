// Recording unasked: which board, when, into which file, and when it ends. The first part
// on a clock of the test's own, the second with boards' lines through real ports.
import { utimesSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import type { Board, Recording, RecordOrder, Unfinished } from '../../../host/server/api.ts';
import { recordingList } from '../../../host/server/api.ts';
import { AWAY_END_S, Unattended } from '../../../host/server/live/unattended.ts';
import { openCapture } from '../../../host/capture/reader.ts';
import type { CaptureInfo } from '../../../host/capture/types.ts';
import { Stage, until, wait } from './stage.ts';

/** A recorder of the test's own: boards by their ports, and what was asked of it. */
class Desk {
  now_ms = 0;
  boards: Record<string, string | null> = {};
  busy: Record<string, string> = {};
  known = ['0000000A', '0000000B'];
  running: { name: string; state: Recording['state']; silent_s: number }[] = [];
  unfinished: Unfinished[] = [];
  refuse: (order: RecordOrder) => boolean = () => false;
  searches = 0;
  readonly orders: RecordOrder[] = [];
  readonly ended: string[] = [];
  readonly logged: string[] = [];
  readonly unattended = new Unattended(
    { ports: () => Promise.resolve(Object.keys(this.boards)), known: () => this.known },
    {
      current: () => this.running.map(({ name, state, silent_s }) => ({ name, state, line: { silent_s } }) as Recording),
      searched: () => (this.searches++, Promise.resolve(Object.entries(this.boards).map(([port, number]) => ({ port, number, recording: this.busy[port] ?? null }) as Board))),
      list: () => Promise.resolve({ recordings: [], unfinished: this.unfinished }),
      begin: (order) => (this.orders.push(order), this.refuse(order) ? Promise.reject(new Error('no')) : Promise.resolve({ name: 'x' } as Recording)),
      stop: (name) => (this.ended.push(name), Promise.resolve({} as Recording)),
    },
    () => this.now_ms, (line) => this.logged.push(line),
  );

  async pass(seconds: number): Promise<void> {
    for (let i = 0; i < seconds; i += 2) {
      this.now_ms += 2000;
      await this.unattended.look();
    }
  }
}

test('a known board is recorded once for each time that it is plugged in; others, and other devices, are not', async () => {
  const desk = new Desk();
  desk.boards = { one: '0000000A', stranger: '000000FF', printer: null, taken: '0000000B' };
  desk.busy = { taken: 'night' };
  await desk.pass(120);
  expect(desk.orders).toEqual([{ port: 'one' }]);
  // What gave no board was asked three times, then no more.
  expect(desk.searches).toBe(3);
  delete desk.boards['one'];
  await desk.pass(10);
  desk.boards['one'] = '0000000A';
  await desk.pass(10);
  expect(desk.orders).toEqual([{ port: 'one' }, { port: 'one' }]);
});

test('an unfinished capture of this board and this night is gone on with, the last of them; one that is refused keeps nothing from being recorded', async () => {
  const desk = new Desk();
  const of = (name: string, board: string | null, hours: number) => ({ name, board, written_ms: Date.now() - hours * 3_600_000, job: '', recorded_s: 1, bay: false });
  desk.unfinished = [of('other', '0000000B', 1), of('older', '0000000A', 9), of('last', '0000000A', 8), of('past', '0000000A', 20), of('none', null, 1)];
  desk.boards = { one: '0000000A' };
  await desk.pass(10);
  expect(desk.orders).toEqual([{ resume: 'last' }]);
  desk.refuse = (order) => 'resume' in order;
  desk.boards = {};
  await desk.pass(2);
  desk.boards = { one: '0000000A' };
  await desk.pass(30);
  expect(desk.orders.slice(1)).toEqual([{ resume: 'last' }, { port: 'one' }]);
  desk.unfinished = [of('past', '0000000A', 20)];
  desk.boards = {};
  await desk.pass(2);
  desk.boards = { one: '0000000A' };
  await desk.pass(10);
  expect(desk.orders.at(-1)).toEqual({ port: 'one' });
});

test('a recorder that looks for its own board has the first chance at a new port; after an hour its car is gone', async () => {
  const desk = new Desk();
  desk.running = [{ name: 'night', state: 'away', silent_s: 100 }];
  desk.boards = { two: '0000000A' };
  await desk.pass(14);
  expect(desk.orders).toEqual([]);
  await desk.pass(6);
  expect([desk.orders, desk.ended]).toEqual([[{ port: 'two' }], []]);
  desk.running[0]!.silent_s = AWAY_END_S;
  await desk.pass(2);
  expect(desk.ended).toEqual(['night']);
  desk.running = [{ name: 'night', state: 'recording', silent_s: 2 * AWAY_END_S }];
  await desk.pass(2);
  expect(desk.ended).toHaveLength(1);
});

let stage: Stage | null = null;
afterEach(async () => {
  await stage?.close();
  stage = null;
});

const running = async () => recordingList.parse(JSON.parse((await stage!.ask('/api/recordings')).text)).recordings.filter(({ state }) => state === 'recording');

function infoOf(path: string): CaptureInfo {
  const capture = openCapture(path);
  try {
    return capture.info();
  } finally {
    capture.close();
  }
}

async function soon<T>(ask: () => Promise<T[]>, what: string): Promise<T> {
  for (let i = 0; i < 300; i++) {
    const [found] = await ask();
    if (found !== undefined) return found;
    await wait(100);
  }
  throw new Error(`waited 30 s for: ${what}`);
}

test('through real ports: begun unasked, gone on with hours later by another server, whole', async () => {
  stage = new Stage();
  const port = stage.plug({ id: 10 });
  const there: string[] = [];
  const unattended = { ports: () => Promise.resolve(there), known: () => ['0000000A'] };
  await stage.serve({ unattended });
  await wait(100);
  expect(await running()).toEqual([]);
  there.push(port);
  const first = await soon(running, 'the board to be recorded');
  await until(() => stage!.boards[0]!.sent.length > 60, 'readings');
  await stage.serving.close();

  const path = join(stage.dir, first.name);
  const before_s = infoOf(path).duration_s;
  const hoursAgo = new Date(Date.now() - 3 * 3_600_000);
  for (const file of [path, `${path}-wal`]) {
    try {
      utimesSync(file, hoursAgo, hoursAgo);
    } catch {
      // Closed cleanly, it left no log.
    }
  }
  await stage.serve({ unattended });
  const again = await soon(running, 'the capture to be gone on with');
  expect(again.name).toBe(first.name);
  await wait(1500);
  expect((await stage.change('POST', `/api/recordings/${first.name}/stop`, {})).status).toBe(200);
  const info = infoOf(path);
  expect([info.state, info.runs.length]).toEqual(['finished', 1]);
  expect(info.duration_s).toBeGreaterThan(before_s + 1);
  // Ended by somebody, it is not begun again while the board stays plugged in.
  await wait(4500);
  expect(await running()).toEqual([]);
}, 120_000);
