// The list of captures is told of when it changes: how soon and how often on a clock that the
// test turns, and through the real server and the real folder.
import { appendFileSync, rmSync, utimesSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { captureList } from '../../../host/contract/api.ts';
import type { ListChanged } from '../../../host/contract/api.ts';
import { Changes } from '../../../host/server/live/changes.ts';
import type { Hub } from '../../../host/server/live/hub.ts';
import type { ShelfListener } from '../../../host/server/shelf/shelf.ts';
import { VirtualTime } from '../../virtual-time.ts';
import { Listener } from './listener.ts';
import { minute } from './minute.ts';
import { Stage, until, wait } from './stage.ts';

const stage = { now: null as Stage | null };

describe('how soon and how often', () => {
  let time: VirtualTime;
  let told: { at_ms: number; change: ListChanged }[];
  let note: ShelfListener;
  let looks: number;
  let listened: boolean;
  let running: number;
  let changes: Changes;

  beforeEach(async () => {
    stage.now = new Stage();
    time = new VirtualTime();
    told = [];
    looks = 0;
    listened = true;
    running = 0;
    const shelf = {
      onChange: (tell: ShelfListener) => void (note = tell),
      look: () => (looks++, Promise.resolve()),
      size: 3,
      version: 'v',
    };
    const hub = {
      get isListListened() {
        return listened;
      },
      sendChanged: (change: ListChanged) => void told.push({ at_ms: time.now_us() / 1000, change }),
    } as Hub;
    const recordings = {
      hub,
      get running() {
        return running;
      },
    };
    changes = new Changes(stage.now.dir, shelf, recordings, time);
    await time.pass(60);
  });
  afterEach(() => {
    changes.close();
    rmSync(stage.now!.root, { recursive: true, force: true });
  });

  const pass = (ms: number) => time.pass(ms);

  test('one change is told at once; those that follow are told together, a quarter of a second apart', async () => {
    note(['a.csv'], false);
    await pass(1);
    expect(told.map(({ change }) => change)).toEqual([{ version: 'v', names: ['a.csv'], total: 3, running: 0 }]);
    for (const name of ['b.csv', 'c.csv', 'b.csv']) note([name], false);
    await pass(200);
    expect(told).toHaveLength(1);
    await pass(60);
    expect(told.slice(1).map(({ change }) => change.names)).toEqual([['b.csv', 'c.csv']]);
    await pass(60_000);
    expect(told).toHaveLength(2);
  });

  test('what only grows is told every five seconds, and does not hold up what came', async () => {
    const begin_ms = time.now_us() / 1000;
    for (let s = 0; s < 20; s++) {
      note(['night.nightdraw'], true);
      await pass(1000);
    }
    const at_s = told.map(({ at_ms }) => Math.round((at_ms - begin_ms) / 1000));
    expect(at_s).toEqual([0, 5, 10, 15, 20]);
    note(['night.nightdraw'], true);
    note(['new.csv'], false);
    await pass(300);
    expect(told.at(-1)!.change.names).toEqual(expect.arrayContaining(['night.nightdraw', 'new.csv']));
  });

  test('more names than fifty are told as all; a recording that begins or ends is told once', async () => {
    note(
      Array.from({ length: 51 }, (_, i) => `${i}.csv`),
      false,
    );
    await pass(1);
    expect(told.at(-1)!.change.names).toBeNull();
    running = 1;
    changes.poke();
    await pass(300);
    expect(told.at(-1)!.change).toMatchObject({ names: [], running: 1 });
    const before = told.length;
    for (let i = 0; i < 20; i++) changes.poke();
    await pass(1000);
    expect(told).toHaveLength(before);
  });

  test('the folder is looked over now and then while somebody listens, and not otherwise', async () => {
    const before = looks;
    await pass(60_000);
    expect(looks - before).toBe(12);
    listened = false;
    await pass(60_000);
    expect(looks - before).toBe(12);
  });
});

describe('through the server', () => {
  let listener: Listener;
  beforeEach(async () => {
    stage.now = new Stage();
    writeFileSync(join(stage.now.dir, 'first.csv'), minute(1));
    await stage.now.serve();
    listener = new Listener(stage.now.port, undefined, true, '/api/live?only=changes');
    await until(() => listener.heard.length > 0, 'the first event');
  });
  afterEach(async () => {
    listener.close();
    await stage.now!.close();
  });

  const told = () => listener.of<ListChanged>('changed').map(({ data }) => data);
  const list = async () => captureList.parse(JSON.parse((await stage.now!.ask('/api/captures')).text));
  const tells = (what: string, wanted: (change: ListChanged) => boolean) =>
    until(() => told().some(wanted), `a word of ${what}`);

  /** Waits until all is read, and told. @returns the version then */
  const settled = async (): Promise<string> => {
    let last = '';
    await until(async () => {
      const { captures, version } = await list();
      last = version;
      return captures.every(({ state }) => state === 'ready') && told().at(-1)!.version === version;
    }, 'the word of all being read');
    return last;
  };

  test('a listener is told all at first, then each file that comes, is read, grows and goes', async () => {
    expect(told()[0]!.names).toBeNull();
    const first = await settled();
    expect(told().some(({ names }) => names?.includes('first.csv') === true)).toBe(true);
    const second = join(stage.now!.dir, 'second.csv');
    writeFileSync(second, minute(2));
    await tells('the second', ({ names, total }) => names?.includes('second.csv') === true && total === 2);
    const read = await settled();
    expect([(await list()).total, read === first]).toEqual([2, false]);
    const before = told().length;
    appendFileSync(second, `\n${new Date(Date.UTC(2030, 0, 2, 6, 1, 1)).toISOString()},20`);
    await until(() => told().length > before, 'the second growing');
    rmSync(second);
    await until(() => told().at(-1)!.total === 1, 'one fewer');
    // No readings come along, and who follows recordings hears nothing of the list.
    expect(new Set(listener.heard.map(({ name }) => name).filter((name) => name !== 'beat'))).toEqual(
      new Set(['changed']),
    );
  });

  test('the list has the version of the last word about it, so that nobody asks twice', async () => {
    const version = await settled();
    await wait(300);
    expect([(await list()).version, told().at(-1)!.version]).toEqual([version, version]);
  });

  test('what is written in a way that gives no other sign is found when somebody asks', async () => {
    const first = join(stage.now!.dir, 'first.csv');
    const version = await settled();
    utimesSync(first, 2e9, 2e9);
    // At once where the folder is looked over quickly; on a busy computer beside the answers.
    await until(async () => (await list()).version !== version, 'the file looked over');
  });
});
