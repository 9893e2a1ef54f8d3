// Two hundred viewers of the live stream at once, and viewers that take nothing: the
// recording loses no reading, and what waits for a slow viewer is bounded.
import express from 'express';
import { createServer, request } from 'node:http';
import type { IncomingMessage, ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { connect } from 'node:net';
import { afterEach, expect, test } from 'vitest';
import { hostClock } from '../../../host/commands/host-clock.ts';
import { recording } from '../../../host/contract/api.ts';
import { VIEWERS_MAX } from '../../../host/contract/limits.ts';
import { Hub } from '../../../host/server/live/hub.ts';
import { Listener } from './listener.ts';
import { Stage, until, wait } from './stage.ts';
import { expectWhole } from './whole.ts';

const ends: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of ends.splice(0).reverse()) await end();
});

test('200 viewers, fifty of them asleep: all that look see the same windows, and none is lost in the capture', async () => {
  const stage = new Stage();
  ends.push(() => stage.close());
  const port = stage.plug({ id: 3 });
  await stage.serve();
  await stage.findBoards();
  const { name } = recording.parse(JSON.parse((await stage.change('POST', '/api/recordings', { port })).text));
  const before_bytes = process.memoryUsage().rss;
  const looking = Array.from({ length: 150 }, () => new Listener(stage.port, undefined, false));
  const asleep = Array.from({ length: 50 }, () =>
    connect(stage.port, '127.0.0.1', function (this: ReturnType<typeof connect>) {
      this.write(`GET /api/live HTTP/1.1\r\nHost: 127.0.0.1:${stage.port}\r\n\r\n`);
      this.pause();
    }),
  );
  ends.push(
    () => looking.forEach((viewer) => viewer.close()),
    () => asleep.forEach((socket) => socket.destroy()),
  );
  await until(() => looking.every((viewer) => viewer.windows(name).length > 60), 'windows for all viewers');
  // Questions of other kinds are answered as well.
  expect((await stage.ask('/api/recordings')).status).toBe(200);
  const stopped = recording.parse(JSON.parse((await stage.change('POST', `/api/recordings/${name}/stop`, {})).text));
  expect(stopped).toMatchObject({ state: 'ended', line: { lost: 0, damaged: 0 } });
  await until(
    () => looking.every((viewer) => viewer.windows(name).at(-1)![0] === looking[0]!.windows(name).at(-1)![0]),
    'the last window for all',
  );
  const from_s = Math.max(...looking.map((viewer) => viewer.windows(name)[0]![0]));
  const seen = looking.map((viewer) => JSON.stringify(viewer.windows(name).filter(([t_s]) => t_s >= from_s)));
  expect(new Set(seen).size).toBe(1);
  expectWhole(stage, name, stage.boards[0]!, 60);
  expect(process.memoryUsage().rss - before_bytes).toBeLessThan(200e6);
  expect(stage.logged).toEqual([]);
});

/** A hub behind a server of its own, and the server's side of each viewer. */
async function hubAlone(): Promise<{ hub: Hub; port: number; responses: ServerResponse[] }> {
  const hub = new Hub(() => ({ recordings: [], traces: [], bays: [] }), hostClock);
  const responses: ServerResponse[] = [];
  const app = express()
    .get('/', (asked, response) => {
      responses.push(response);
      hub.attend(asked, response);
    })
    .use(
      ((error: { status: number }, _asked, response, _next) =>
        void response.status(error.status).end()) as express.ErrorRequestHandler,
    );
  const server = createServer(app);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  ends.push(
    () =>
      new Promise((resolve) => {
        server.close(resolve);
        server.closeAllConnections();
      }),
    () => hub.close(),
  );
  return { hub, port: (server.address() as AddressInfo).port, responses };
}

const attend = (port: number): Promise<IncomingMessage> =>
  new Promise((resolve, reject) => {
    const asking = request({ host: '127.0.0.1', port, agent: false }, resolve).on('error', reject);
    ends.push(() => asking.destroy());
    asking.end();
  });

test('what waits for a viewer that takes nothing stays below 0.4 MB, and it gets a fresh picture when it wakes', async () => {
  const { hub, port, responses } = await hubAlone();
  const sleepers = await Promise.all(Array.from({ length: 20 }, () => attend(port)));
  sleepers.forEach((sleeper) => sleeper.pause());
  const text = 'x'.repeat(50_000);
  let waiting = 0;
  // 40 MB for each: far more than the system's own buffers of a connection take.
  for (let i = 0; i < 800; i++) {
    hub.send('status', { text });
    waiting = Math.max(waiting, ...responses.map((response) => response.writableLength));
    if (i % 20 === 0) await wait(1);
  }
  expect(waiting).toBeGreaterThan(200_000);
  expect(waiting).toBeLessThan(400_000);
  let told = '';
  sleepers[0]!
    .setEncoding('utf8')
    .on('data', (part: string) => (told += part))
    .resume();
  await until(() => told.lastIndexOf('event: picture') > told.indexOf('event: status'), 'a fresh picture');
});

test('one viewer more than there is room for is told so', async () => {
  const { hub, port } = await hubAlone();
  await Promise.all(Array.from({ length: VIEWERS_MAX }, () => attend(port)));
  expect(hub.count).toBe(VIEWERS_MAX);
  expect((await attend(port)).statusCode).toBe(503);
});
