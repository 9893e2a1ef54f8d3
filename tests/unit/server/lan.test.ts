// The way in from the local network: a code good once, a cookie after it, and nothing
// without. A second loopback address stands for the network's.
import { request } from 'node:http';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { lanState } from '../../../host/contract/api.ts';
import { lanAddress } from '../../../host/server/lan/address.ts';
import { blocksOf, modulesOf, svgOf } from '../../../host/server/lan/code.ts';
import { Entry } from '../../../host/server/lan/entry.ts';
import { Stage } from './stage.ts';

const LAN = '127.0.0.2';
const stage = new Stage();
const shown: string[] = [];
let origin: string;

beforeAll(async () => {
  await stage.serve({ lan: LAN, onCode: (url) => shown.push(url) });
  origin = `http://${LAN}:${stage.port}`;
});
afterAll(() => stage.close());

const fromLan = (path: string, headers: Record<string, string> = {}) => stage.ask(path, { host: LAN, headers });
const enter = (token: string) =>
  stage.ask('/api/lan/enter', {
    host: LAN,
    method: 'POST',
    headers: { origin, 'content-type': 'application/json' },
    body: JSON.stringify({ token }),
  });
const newest = () => shown.at(-1)!.split('#')[1]!;

test('without a cookie only the entrance is there', async () => {
  for (const path of [
    '/api',
    '/api/captures',
    '/api/live',
    '/api/lan',
    '/api/lan/code.svg',
    '/index.html',
    '/assets/x.js',
  ])
    expect((await fromLan(path)).status).toBe(401);
  const page = await fromLan('/');
  expect([page.status, page.text]).toEqual([401, expect.stringContaining('Scan the code')]);
  for (const path of ['/enter', '/enter.css', '/enter.js']) expect((await fromLan(path)).status).toBe(200);
  expect((await fromLan('/enter')).text).not.toContain(newest());
});

test('the code is good once, gives a cookie, and is another then', async () => {
  expect(shown).toEqual([expect.stringMatching(new RegExp(`^http://127\\.0\\.0\\.2:${stage.port}/enter#[\\w-]{22}$`))]);
  const first = newest();
  const answer = await enter(first);
  expect(answer.status).toBe(200);
  const cookie = answer.headers['set-cookie']![0]!;
  expect(cookie).toMatch(/^nightdraw=[\w-]{22}; Path=\/; Max-Age=86400; HttpOnly; SameSite=Strict$/);
  expect(newest()).not.toBe(first);
  expect((await enter(first)).status).toBe(401);
  const own = { cookie: cookie.split(';')[0]! };
  expect((await fromLan('/api/captures', own)).status).toBe(200);
  expect((await fromLan('/', own)).text).toContain('<title>page</title>');
  for (const wrong of [`nightdraw=${newest()}`, 'nightdraw=', 'nightdraw', `other=${own.cookie.slice(10)}`])
    expect((await fromLan('/api/captures', { cookie: wrong })).status).toBe(401);
  // Host and Origin of the other door, or of elsewhere, are refused whatever the cookie.
  for (const headers of [
    { host: `127.0.0.1:${stage.port}` },
    { host: 'evil.example' },
    { origin: 'http://evil.example' },
    { origin: stage.origin },
  ])
    expect((await fromLan('/api/captures', { ...own, ...headers })).status).toBe(403);
  for (const path of ['/api/lan', '/api/lan/code.svg']) expect((await fromLan(path, own)).status).toBe(403);
});

test('the page on this computer shows the code, and makes another', async () => {
  const state = lanState.parse(JSON.parse((await stage.ask('/api/lan')).text));
  expect(state).toEqual({ on: true, url: shown.at(-1), devices: 1 });
  const svg = await stage.ask('/api/lan/code.svg');
  expect([svg.headers['content-type'], svg.text]).toEqual(['image/svg+xml; charset=utf-8', svgOf(shown.at(-1)!)]);
  expect((await stage.change('POST', '/api/lan/renew', {})).status).toBe(200);
  expect((await enter(newest())).status).toBe(401);
});

test('the loopback door answers to no name of the network', async () => {
  expect((await stage.ask('/api', { headers: { host: `${LAN}:${stage.port}` } })).status).toBe(403);
  await expect(
    new Promise((resolve, reject) =>
      request({ host: '127.0.0.3', port: stage.port }, resolve).on('error', reject).end(),
    ),
  ).rejects.toThrow('ECONNREFUSED');
});

test('ten wrong codes in a minute are the last of an address, and keep the right one from nobody; cookies end after a day', () => {
  let now_ms = 0;
  const entry = new Entry(() => now_ms);
  const status = (token: string, address = 'guest') => {
    try {
      return entry.enter(token, address) === '' ? 0 : 200;
    } catch (error) {
      return (error as { status: number }).status;
    }
  };
  expect(Array.from({ length: 12 }, () => status('wrong'))).toEqual([...Array<number>(10).fill(401), 429, 429]);
  expect([status('wrong', 'another'), status(entry.code), status('wrong')]).toEqual([401, 200, 429]);
  // A network of guests: what is kept of them is bounded.
  for (let i = 0; i < 5000; i++) expect(status('wrong', `guest ${i}`)).toBe(401);
  now_ms = 61_000;
  expect(status('wrong')).toBe(401);
  const cookie = `a=b; nightdraw=${entry.enter(entry.code, 'tablet')}`;
  expect(entry.knows(cookie)).toBe(true);
  now_ms += 24 * 3600_000;
  expect([entry.knows(cookie), entry.knows(undefined)]).toEqual([false, false]);
});

test('the code has the finder patterns and quiet zone of ISO/IEC 18004, and fits a terminal', () => {
  const modules = modulesOf(`${origin}/enter#${'a'.repeat(22)}`);
  const size = modules.length;
  expect((size - 17) % 4).toBe(0);
  const finder = ['#######', '#     #', '# ### #', '# ### #', '# ### #', '#     #', '#######'];
  for (const [x, y] of [
    [0, 0],
    [size - 7, 0],
    [0, size - 7],
  ] as const) {
    expect(
      finder.map((_, row) =>
        modules[y + row]!.slice(x, x + 7)
          .map((dark) => (dark ? '#' : ' '))
          .join(''),
      ),
    ).toEqual(finder);
  }
  const lines = blocksOf('x').split('\n');

  expect(Math.max(...lines.map((line) => line.replace(/\u001b\[[\d;]*m/g, '').length))).toBeLessThan(80);
});

test('the address to listen on: a private one first, one of ours where it is named', () => {
  const two = [
    { device: 'wlan0', address: '192.168.1.5' },
    { device: 'eth1', address: '10.0.0.2' },
  ];
  expect(lanAddress(null, two)).toBe('192.168.1.5');
  expect(lanAddress('10.0.0.2', two)).toBe('10.0.0.2');
  expect(() => lanAddress('10.0.0.9', two)).toThrow(
    /10\.0\.0\.9 is no address of this computer .* 192\.168\.1\.5 \(wlan0\)/,
  );
  expect(() => lanAddress(null, [])).toThrow(/no local network/);
  expect(() => lanAddress(null, [{ device: 'eth0', address: '8.8.8.8' }])).toThrow(/--lan-address/);
});
