// Notices against a server that fails, hangs, hangs up, is away and comes back: each is taken
// once. Real HTTP over loopback; the waiting between is on a clock that the test turns.
import { createServer } from 'node:http';
import type { RequestListener, Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { setImmediate as othersTurn } from 'node:timers/promises';
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { hostClock } from '../../../host/commands/host-clock.ts';
import { VirtualTime } from '../../virtual-time.ts';
import { NightWatch } from '../../../host/notify/watch.ts';
import { Webhook } from '../../../host/notify/webhook.ts';

const TIMES = { answer_ms: 10_000, again_ms: 1000, again_ms_max: 4000 };
let time: VirtualTime;
/** The server keeps a question without an answer. */
let hanging: boolean;
beforeEach(() => {
  time = new VirtualTime();
  hanging = false;
});
let server: Server | null = null;
afterEach(() => {
  server?.closeAllConnections();
  server?.close();
});

async function listen(handle: (body: string) => number | 'hang' | 'cut', port = 0): Promise<number> {
  const answer: RequestListener = (request, response) => {
    let body = '';
    request
      .on('data', (part: Buffer) => (body += part.toString()))
      .on('end', () => {
        const status = handle(body);
        hanging = status === 'hang';
        if (status === 'cut') request.socket.destroy();
        else if (status !== 'hang') response.writeHead(status, { location: 'http://127.0.0.1:9/' }).end();
      });
  };
  const opened = (server = createServer(answer));
  await new Promise<void>((resolve) => opened.listen(port, '127.0.0.1', resolve));
  return (opened.address() as AddressInfo).port;
}

/**
 * Turns the clock until it is settled: over each pause between attempts, and over an answer's
 * time where the server lets one hang; while an answer is on its way the clock stands.
 */
async function turned<T>(promise: Promise<T>): Promise<T> {
  let done = false;
  const mark = () => void (done = true);
  promise.then(mark, mark);
  while (!done) {
    await othersTurn();
    const next_ms = time.next_ms;
    if (next_ms !== null && (hanging || next_ms <= TIMES.again_ms_max)) {
      hanging = false;
      await time.pass(next_ms);
    }
  }
  return promise;
}

const note = (n: number) => ({ event: 'board-silent', capture: 'night', sentence: `number ${n}` }) as const;

test('what fails, hangs, redirects or is cut is sent again under the same id; what was taken is not', async () => {
  const script = [500, 'hang', 'cut', 302, 200, 503, 204, 429, 200] as const;
  const seen: { id: string; sentence: string }[] = [],
    taken: string[] = [],
    trouble: string[] = [];
  const port = await listen((body) => {
    const status = script[seen.length]!;
    const event = JSON.parse(body) as { id: string; sentence: string };
    seen.push(event);
    if (status === 200 || status === 204) taken.push(event.sentence);
    return status;
  });
  const hook = new Webhook(`http://127.0.0.1:${port}/`, (text) => trouble.push(text), time, TIMES);
  for (let n = 1; n <= 3; n++) hook.tell(note(n));
  await turned(hook.close(120_000));
  expect(taken).toEqual(['number 1', 'number 2', 'number 3']);
  expect(seen).toHaveLength(script.length);
  expect(new Set(seen.map(({ id }) => id)).size).toBe(3);
  expect(trouble).toEqual([]);
});

test('an answer that never comes is waited for no longer than said, whatever the garbage collector takes', async () => {
  setFlagsFromString('--expose-gc');
  const collect = runInNewContext('gc') as () => void;
  let asked = 0;
  const port = await listen(() => (++asked === 1 ? 'hang' : 200));
  // The program's own clock: what it keeps is what must not be collected.
  const hook = new Webhook(`http://127.0.0.1:${port}/`, () => undefined, hostClock, {
    ...TIMES,
    answer_ms: 300,
    again_ms: 10,
  });
  hook.tell(note(1));
  while (asked < 2) {
    collect();
    await othersTurn();
  }
  await hook.close(30_000);
});

test('a server that is away at first gets it when it is back; one that is never there is given up', async () => {
  const seen: string[] = [],
    taken: string[] = [],
    trouble: string[] = [];
  const port = await listen((body) => (seen.push(body), seen.length < 4 ? 'cut' : (taken.push(body), 200)));
  const hook = new Webhook(`http://127.0.0.1:${port}/`, (text) => trouble.push(text), time, TIMES);
  hook.tell(note(1));
  await turned(hook.close(60_000));
  expect([seen.length, taken.length, new Set(seen).size]).toEqual([4, 1, 1]);
  // One second after the first attempt, then two, then four.
  expect(Math.round(time.now_us() / 1e6 - 1)).toBe(7);

  const refusing = createServer();
  await new Promise<void>((resolve) => refusing.listen(0, '127.0.0.1', resolve));
  const nobody = (refusing.address() as AddressInfo).port;
  await new Promise((resolve) => refusing.close(resolve));
  const lost = new Webhook(`http://127.0.0.1:${nobody}/`, (text) => trouble.push(text), time, TIMES);
  lost.tell(note(2));
  await turned(lost.close(60_000));
  expect(trouble).toEqual([expect.stringContaining('1 notices were not taken')]);
});

test('a refusal is told and not repeated; an address that never answers is given up at the end', async () => {
  let asked = 0;
  const trouble: string[] = [];
  const port = await listen(() => (asked++, asked === 1 ? 404 : 'hang'));
  const hook = new Webhook(`http://127.0.0.1:${port}/`, (text) => trouble.push(text), time, TIMES);
  hook.tell(note(1));
  await turned(hook.close(30_000));
  expect([asked, trouble.length]).toEqual([1, 1]);
  hook.tell(note(2));
  await turned(hook.close(50));
  expect(trouble[1]).toContain('1 notices were not taken');
});

test('silence is told after a minute, low voltage at once, each once until it is well again', () => {
  const told: string[] = [];
  const watch = new NightWatch('night', 12, ({ event }) => told.push(event));
  watch.look(false, 12.5, 0);
  watch.look(false, 12.5, 59_000);
  expect(told).toEqual([]);
  watch.look(false, 12.5, 61_000);
  watch.look(false, 11.9, 90_000);
  watch.look(true, 12.05, 91_000);
  watch.look(true, 11.9, 92_000);
  expect(told).toEqual(['board-silent', 'battery-low']);
  watch.look(true, 12.2, 93_000);
  watch.look(true, 12, 94_000);
  watch.done('done');
  expect(told).toEqual(['board-silent', 'battery-low', 'battery-low', 'night-done']);
});
