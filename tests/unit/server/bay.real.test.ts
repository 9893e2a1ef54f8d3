// Work in the bay beside a recording of the server: real boards' lines, real HTTP, the
// real recorder, and the capture that keeps every deed.
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { readBay } from '../../../host/capture/store/bay-log.ts';
import { bayView, feedTree, problem, recording, recordingList, treeAnswer } from '../../../host/contract/api.ts';
import type { BayView, Recording } from '../../../host/contract/api.ts';
import { Listener } from './listener.ts';
import { Stage, until } from './stage.ts';
import type { Answer } from './stage.ts';

const TREE = readFileSync(new URL('../../../host/bay/examples/demo-tree.csv', import.meta.url), 'utf8');
let stage: Stage;
let listener: Listener;
beforeEach(() => {
  stage = new Stage();
});
afterEach(async () => {
  listener?.close();
  await stage.close();
});

async function begin(port: string, bay: object): Promise<Recording> {
  const answer = await stage.change('POST', '/api/recordings', { port, bay });
  expect([answer.status, answer.text]).toEqual([201, expect.stringContaining('"name"')]);
  return recording.parse(JSON.parse(answer.text));
}

const told = ({ text }: Answer) => (JSON.parse(text) as { error: { code: string; message: string } }).error;
const views = () => listener.of<{ name: string; view: BayView }>('bay').map(({ data }) => data.view);

test('a tree is looked over with every mistake and its line; work with a bad one is not begun and leaves no file', async () => {
  const port = stage.plug();
  await stage.serve();
  await stage.findBoards();
  const look = async (tree: string) =>
    treeAnswer.parse(JSON.parse((await stage.change('POST', '/api/bay/tree', { tree })).text));
  expect(await look(TREE)).toEqual({ fuses: 28, relays: 1, parts: 35, complaints: [], warnings: [] });
  const bad = 'box,position,rating,type,feeds\ndash,F1,10,miniature,F1\ndash,F2,ten,miniature,radio\n';
  expect((await look(bad)).complaints.map(({ line }) => line)).toEqual([2, 3]);
  const refused = await stage.change('POST', '/api/recordings', { port, bay: { tree: bad } });
  expect([refused.status, told(refused).code]).toEqual([422, 'bad-tree']);
  expect(told(refused).message).toMatch(/^The feed tree has a mistake in line 2: /);
  expect(readdirSync(stage.dir).filter((name) => !name.startsWith('.'))).toEqual([]);
  for (const [tree, status] of [
    ['', 400],
    ['x'.repeat(100_001), 400],
    ['x'.repeat(300_000), 413],
  ] as const)
    expect((await stage.change('POST', '/api/bay/tree', { tree })).status).toBe(status);
});

test('deeds go through the list and are on the disk at once; what makes no sense is refused; left and gone on with', async () => {
  const port = stage.plug({ id: 7, current_uA: () => 350_000 });
  await stage.serve();
  await stage.findBoards();
  listener = new Listener(stage.port);
  const { name } = await begin(port, { tree: TREE, allowance_mA: 30, meter_mV: null });
  const act = (action: object) => stage.change('POST', `/api/recordings/${name}/bay`, action);
  const kept = () => readBay(join(stage.dir, name))!.entries;
  await until(
    () => listener.of('status').some(({ data }) => (data as Recording).recorded_s > 0.5),
    'readings on the disk',
  );
  const answer = await act({ do: 'tap' });
  expect(answer.status).toBe(200);
  expect(bayView.parse(JSON.parse(answer.text)).step).toEqual({ number: 2, of: 11 });
  expect(kept().map(({ code }) => code)).toEqual(['prepared']);
  await until(() => views().some(({ step }) => step?.number === 2), 'the view on the stream');
  // An answer to what is not asked any more, by a hand that was slower or another device, does nothing.
  const first = 'Battery tested and charged; terminals clean and tight.';
  const stale = await act({ do: 'tap', asked: first });
  expect([stale.status, bayView.parse(JSON.parse(stale.text)).step]).toEqual([200, { number: 2, of: 11 }]);
  expect(kept().map(({ code }) => code)).toEqual(['prepared']);
  // A viewer who comes later is told the same.
  const late = new Listener(stage.port);
  await until(() => late.of('picture').length > 0, 'the picture');
  expect(
    late
      .of<{ bays: { name: string; view: BayView }[] }>('picture')[0]!
      .data.bays.map((one) => [one.name, one.view.step]),
  ).toEqual([[name, { number: 2, of: 11 }]]);
  late.close();

  // The tree is asked for once; views tell of its nodes by number.
  const { nodes } = feedTree.parse(JSON.parse((await stage.ask(`/api/recordings/${name}/bay/tree`)).text));
  expect(nodes).toHaveLength(64);
  expect(nodes.find((node) => node.name === 'mirror left')).toEqual({
    ...{ name: 'mirror left', kind: 'part', box: 'dash', rating_A: 10 },
    parent: nodes.findIndex((node) => node.name === 'D9'),
    readable: false,
  });
  expect(bayView.parse(JSON.parse(stale.text)).feed.states).toHaveLength(64);
  expect((await stage.ask('/api/recordings/other.nightdraw/bay/tree')).status).toBe(404);

  const refusals: [object, number, RegExp][] = [
    [{ do: 'give-up' }, 409, /^Nothing is being looked for now\.$/],
    [{ do: 'did', what: 'pulled', name: 'F99' }, 409, /'F99' is no fuse or part of the tree/],
    [{ do: 'drop', drop_mV: 0.4 }, 409, /no voltage is asked for now/i],
    [{ do: 'tick', id: 'nothing', ticked: true }, 409, /is not on the closing list/],
    [
      { do: 'evidence', name: 'radio', kind: 'other', text: 'x', source: 'y', odds: 99 },
      409,
      /beyond what evidence may say/,
    ],
    [{ do: 'proof', resistor_Ohm: 1e-3 }, 409, /./],
    [{ do: 'dance' }, 400, /./],
    [{ do: 'drop', drop_mV: 'x' }, 400, /./],
    [{ do: 'tap', more: 1 }, 400, /./],
  ];
  for (const [action, status, words] of refusals) {
    const refused = await act(action);
    expect([JSON.stringify(action), refused.status, told(refused).message]).toEqual([
      JSON.stringify(action),
      status,
      expect.stringMatching(words),
    ]);
  }
  expect(kept().map(({ code }) => code)).toEqual(['prepared']);
  expect((await stage.change('POST', '/api/recordings/other.nightdraw/bay', { do: 'tap' })).status).toBe(404);

  // A box of voltages is kept whole or not at all, and each that is wrong is told by its place.
  const box = (readings: [string, string][]) =>
    act({ do: 'drops', readings: readings.map(([fuse, written]) => ({ name: fuse, written })) });
  const wrong = await box([
    ['D2', '0,4'],
    ['D3', 'x'],
    ['D9', '6930'],
  ]);
  const { error } = problem.parse(JSON.parse(wrong.text));
  expect([wrong.status, error.code, error.complaints!.map(({ at }) => at)]).toEqual([409, 'bad-readings', [1, 2]]);
  expect(error.message).toMatch(/^2 voltages cannot be, so none of the 3 is noted: 'x' is not a voltage in mV\.$/);
  expect(kept().map(({ code }) => code)).toEqual(['prepared']);
  const good = await box([
    ['D2', '0,4'],
    ['D3', '0'],
  ]);
  expect(good.status).toBe(200);
  expect(kept().map(({ code }) => code)).toEqual(['prepared', 'drop']);
  expect(kept().at(-1)!.text).toMatch(/^2 voltages read: fuse D2 \(dash\) 0\.4 mV, 52 mA; 1 other under 10 mA$/);

  // Two devices at once, and the same sentence is asked afterwards: one of the two is an answer.
  const noted = bayView.parse(JSON.parse((await act({ do: 'drop', name: 'D4', drop_mV: 0.1 })).text));
  const wrongOnce = { do: 'wrong', asked: noted.headline, answered: noted.answered };
  const both = await Promise.all([act(wrongOnce), act(wrongOnce)]);
  expect(both.map(({ status, text }) => [status, bayView.parse(JSON.parse(text)).headline])).toEqual([
    [200, noted.headline],
    [200, noted.headline],
  ]);
  expect(kept().map(({ code }) => code)).toEqual(['prepared', 'drop', 'drop', 'wrong']);

  expect((await act({ do: 'ready' })).status).toBe(200);
  expect((await act({ do: 'did', what: 'pulled', name: 'D2' })).status).toBe(200);
  const left = await stage.change('POST', `/api/recordings/${name}/leave`, {});
  const { notes, ...rest } = recording.parse(JSON.parse(left.text));
  expect(rest).toMatchObject({ state: 'ended', trouble: null });
  expect(notes.map(({ text }) => text).join('\n')).toMatch(/^Still out: fuse D2 \(dash\)\. Bridge on/m);
  expect((await act({ do: 'tap' })).status).toBe(409);
  const { unfinished } = recordingList.parse(JSON.parse((await stage.ask('/api/recordings')).text));
  expect(unfinished).toMatchObject([{ name, bay: true }]);

  expect((await stage.change('POST', '/api/recordings', { resume: name })).status).toBe(201);
  await until(
    () =>
      views().at(-1)?.out.length === 1 ||
      listener.of<{ bays: { view: BayView }[] }>('picture').some(({ data }) => data.bays[0]?.view.out.length === 1),
    'what was out',
  );
  const stopped = recording.parse(JSON.parse((await stage.change('POST', `/api/recordings/${name}/stop`, {})).text));
  expect(stopped).toMatchObject({ state: 'ended', bay: true });
  expect(kept().map(({ code }) => code)).toEqual(expect.arrayContaining(['prepared', 'left-out']));
  expect(stage.logged).toEqual([]);
});

test('a recording without such work takes no deeds', async () => {
  const port = stage.plug();
  await stage.serve();
  await stage.findBoards();
  const { name, bay } = recording.parse(JSON.parse((await stage.change('POST', '/api/recordings', { port })).text));
  expect(bay).toBe(false);
  for (const path of ['bay', 'leave'])
    expect(
      (await stage.change('POST', `/api/recordings/${name}/${path}`, path === 'bay' ? { do: 'tap' } : {})).status,
    ).toBe(404);
  await stage.change('POST', `/api/recordings/${name}/stop`, {});
  expect(readBay(join(stage.dir, name))).toBe(null);
});
