// Recording unasked: which board, when, into which file, and when it ends, on a clock that
// the test turns.
import { expect, test } from 'vitest';
import type { Board, Recording, RecordOrder, Unfinished } from '../../../host/contract/api.ts';
import { AWAY_END_S, Unattended } from '../../../host/server/live/unattended.ts';
import { VirtualTime } from '../../virtual-time.ts';

/** A recorder of the test's own: boards by their ports, and what was asked of it. */
class Desk {
  readonly time = new VirtualTime();
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
      current: () =>
        this.running.map(({ name, state, silent_s }) => ({ name, state, line: { silent_s } }) as Recording),
      searched: () => (
        this.searches++,
        Promise.resolve(
          Object.entries(this.boards).map(
            ([port, number]) => ({ port, number, recording: this.busy[port] ?? null }) as Board,
          ),
        )
      ),
      list: () => Promise.resolve({ recordings: [], unfinished: this.unfinished }),
      begin: (order) => (
        this.orders.push(order),
        this.refuse(order) ? Promise.reject(new Error('no')) : Promise.resolve({ name: 'x' } as Recording)
      ),
      stop: (name) => (this.ended.push(name), Promise.resolve({} as Recording)),
    },
    this.time,
    (line) => this.logged.push(line),
  );

  async pass(seconds: number): Promise<void> {
    for (let i = 0; i < seconds; i += 2) {
      await this.time.pass(2000);
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
  const of = (name: string, board: string | null, hours: number) => ({
    name,
    board,
    written_ms: desk.time.wall_ms() - hours * 3_600_000,
    job: '',
    recorded_s: 1,
    bay: false,
  });
  desk.unfinished = [
    of('other', '0000000B', 1),
    of('older', '0000000A', 9),
    of('last', '0000000A', 8),
    of('past', '0000000A', 20),
    of('none', null, 1),
  ];
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

test("the night that is gone on with is at most 16 hours old, by the wall's clock alone", async () => {
  for (const [age_min, resumed] of [
    [16 * 60 - 1, true],
    [16 * 60 + 1, false],
  ] as const) {
    const desk = new Desk();
    desk.unfinished = [
      {
        name: 'night',
        board: '0000000A',
        written_ms: desk.time.wall_ms() + 8000 - age_min * 60_000,
        job: '',
        recorded_s: 1,
        bay: false,
      },
    ];
    // The board comes two seconds later, and is taken when its port has settled.
    await desk.pass(2);
    desk.boards = { one: '0000000A' };
    await desk.pass(6);
    expect(desk.orders, `${age_min} min`).toEqual([resumed ? { resume: 'night' } : { port: 'one' }]);
  }
  // A clock that was set back by a day makes the file look as if it came from tomorrow.
  const desk = new Desk();
  desk.unfinished = [
    { name: 'night', board: '0000000A', written_ms: desk.time.wall_ms(), job: '', recorded_s: 1, bay: false },
  ];
  desk.time.set_ms = -86_400_000;
  desk.boards = { one: '0000000A' };
  await desk.pass(6);
  expect(desk.orders).toEqual([{ resume: 'night' }]);
});

test('`start` looks every two seconds until it is closed, and nothing is left waiting', async () => {
  const desk = new Desk();
  desk.boards = { one: '0000000A' };
  desk.unattended.start();
  await desk.time.pass(5000);
  expect(desk.orders).toEqual([{ port: 'one' }]);
  await desk.unattended.close();
  expect(desk.time.waiting).toBe(0);
});
