// Recording from the server: real boards' lines through real ports, real HTTP, the real recorder.
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { openCapture } from '../../../host/capture/read/reader.ts';
import { boardList, recording, recordingList } from '../../../host/contract/api.ts';
import type { Recording } from '../../../host/contract/api.ts';
import { Listener } from './listener.ts';
import { Stage, until, wait } from './stage.ts';
import { expectWhole } from './whole.ts';

let stage: Stage;
const listeners: Listener[] = [];
const listen = (lastId?: string) => {
  const listener = new Listener(stage.port, lastId);
  listeners.push(listener);
  return listener;
};
beforeEach(() => {
  stage = new Stage();
});
afterEach(async () => {
  listeners.splice(0).forEach((listener) => listener.close());
  await stage.close();
});

async function begin(port: string, more: object = {}): Promise<Recording> {
  const answer = await stage.change('POST', '/api/recordings', { port, ...more });
  expect([answer.status, answer.text]).toEqual([201, expect.stringContaining('"name"')]);
  return recording.parse(JSON.parse(answer.text));
}

const stop = async (name: string) =>
  recording.parse(JSON.parse((await stage.change('POST', `/api/recordings/${name}/stop`, {})).text));
const recordings = async () => recordingList.parse(JSON.parse((await stage.ask('/api/recordings')).text));

test('two boards at once: begun, followed, steps called out, ended, each whole in its capture', async () => {
  const first = stage.plug({ id: 1, current_uA: (window) => (window < 80 ? 400_000 : 150_000) });
  const second = stage.plug({ id: 2 });
  await stage.serve();
  await stage.findBoards();
  const { boards } = boardList.parse(JSON.parse((await stage.ask('/api/boards')).text));
  expect(boards.map(({ number, trouble, recording: into }) => [number, trouble, into])).toEqual([
    ['00000001', null, null],
    ['00000002', null, null],
  ]);

  const listener = listen();
  const [a, b] = await Promise.all([begin(first, { job: 'no start after 3 days', plate: 'X 1' }), begin(second)]);
  expect(a.name).toMatch(/^\d{4}-\d\d-\d\d-\d{4}-00000001\.nightdraw$/);
  expect(b.name).not.toBe(a.name);
  expect((await stage.change('POST', '/api/recordings', { port: first })).status).toBe(409);
  await until(() => listener.of('step').length > 0, 'the step');
  expect(listener.of('step')[0]!.data).toMatchObject({ name: a.name, step: { from_mA: 400, to_mA: 150 } });
  await until(() => listener.windows(a.name).length > 120 && listener.windows(b.name).length > 80, 'windows of both');

  const ended = await stop(a.name);
  expect(ended).toMatchObject({
    state: 'ended',
    trouble: null,
    job: 'no start after 3 days',
    line: { lost: 0, damaged: 0, goodShare: 1 },
    voltage_V: 12.6,
  });
  expect(ended.space.left_s).toBeGreaterThan(0);
  await stop(b.name);
  expectWhole(stage, a.name, stage.boards[0]!, 100);
  expectWhole(stage, b.name, stage.boards[1]!, 60);
  const details = JSON.parse((await stage.ask(`/api/captures/${a.name}/details`)).text) as unknown;
  expect(details).toEqual({ job: 'no start after 3 days', plate: 'X 1', vehicle: '', customer: '' });
});

test('a server that stops leaves the capture unfinished; the next one goes on with it by itself', async () => {
  const port = stage.plug({ id: 7 });
  await stage.serve();
  await stage.findBoards();
  const { name } = await begin(port, { job: 'kept' });
  await wait(1200);
  await stage.serving.close();
  const closed = openCapture(join(stage.dir, name));
  expect(closed.info().state).toBe('recording');
  const before = closed.info().samples;
  closed.close();
  await stage.serve();
  let now: Recording | undefined;
  for (let i = 0; i < 100 && now?.state !== 'recording'; i++) {
    await wait(100);
    now = (await recordings()).recordings[0];
  }
  expect(now).toMatchObject({ name, state: 'recording', job: 'kept' });
  expect(stage.logged).toEqual([`goes on recording ${name}`]);
  await wait(600);
  expect((await stop(name)).recorded_s).toBeGreaterThan(before * 0.05);
  expect(readdirSync(stage.dir).filter((name) => !name.startsWith('.'))).toEqual([name]);
});

test('a client that comes back gets what it missed, each window once; one of another run a fresh picture', async () => {
  const port = stage.plug();
  await stage.serve();
  await stage.findBoards();
  const { name } = await begin(port);
  const whole = listen();
  const first = listen();
  await until(() => first.windows(name).length > 10, 'windows');
  first.close();
  await wait(700);
  const again = listen(first.lastId);
  await until(() => again.windows(name).length > 25, 'windows again');
  expect(again.of('picture')).toEqual([]);
  const both = [...first.windows(name), ...again.windows(name)].map(([t_s]) => t_s);
  expect(both).toEqual(
    whole
      .windows(name)
      .map(([t_s]) => t_s)
      .slice(-both.length - 5)
      .filter((t_s) => t_s >= both[0]! && t_s <= both.at(-1)!),
  );
  for (const id of ['0123456789ab-5', 'nonsense', `${first.lastId!.split('-')[0]}-99999999`]) {
    const stranger = listen(id);
    await until(() => stranger.heard.length > 0, 'a picture');
    expect(stranger.heard[0]!.name).toBe('picture');
  }
  await stop(name);
});

test('a cable that is out is told, and recording goes on when it is back', async () => {
  const port = stage.plug({ keeps: 40 });
  await stage.serve();
  await stage.findBoards();
  const { name } = await begin(port);
  const listener = listen();
  const states = () => listener.of<Recording>('status').map(({ data }) => data.state);
  await until(() => states().includes('recording'), 'recording');
  stage.boards[0]!.unplug();
  await until(() => states().includes('away'), 'away');
  stage.boards[0]!.plug();
  await until(() => states().at(-1) === 'recording', 'recording again');
  expect((await stop(name)).notes.map(({ text }) => text).join(' ')).toMatch(/is away.*is back/);
});

test('what cannot be begun is told at once, with the right status', async () => {
  const port = stage.plug();
  await stage.serve();
  const status = async (body: object) => (await stage.change('POST', '/api/recordings', body)).status;
  expect(await status({ port })).toBe(404);
  expect(await status({ port: '/dev/null' })).toBe(404);
  expect(await status({ resume: 'absent.nightdraw' })).toBe(404);
  expect(await status({ resume: '../x.nightdraw' })).toBe(400);
  expect(await status({ port, more: 1 })).toBe(400);
  expect((await stage.change('POST', '/api/recordings/absent/stop', {})).status).toBe(404);
  await stage.findBoards();
  stage.boards[0]!.unplug();
  const answer = await stage.change('POST', '/api/recordings', { port });
  expect(answer.status).toBe(422);
  expect(answer.text).not.toContain('stack');
  expect((await recordings()).recordings).toEqual([]);
  expect(readdirSync(stage.dir).filter((name) => !name.startsWith('.'))).toEqual([]);
});

test('a recording that is begun while boards are looked for waits until their ports are free', async () => {
  const port = stage.plug();
  await stage.serve();
  await stage.findBoards();
  await stage.change('POST', '/api/boards/search', {});
  const { name } = await begin(port);
  expect((await stop(name)).trouble).toBeNull();
});
