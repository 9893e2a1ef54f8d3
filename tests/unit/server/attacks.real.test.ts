// Attacks on every route that the description names, while a board is being recorded:
// each gets the right status, and at the end no reading is missing.
import { mkdirSync, symlinkSync, writeFileSync } from 'node:fs';
import { connect } from 'node:net';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { importCsv } from '../../../host/capture/exchange/csv.ts';
import { reportsInThreads } from '../../../host/commands/reports.ts';
import { nightInfo, problem, recording } from '../../../host/contract/api.ts';
import type { Description } from '../../../host/server/description.ts';
import { Stage, until } from './stage.ts';
import type { Answer } from './stage.ts';
import { expectWhole } from './whole.ts';

const SECRET = 'the secret outside';
const PATIENCE = { headers_ms: 600, request_ms: 900, check_ms: 100 };

interface Door {
  method: string;
  path: string;
  query: string[];
  writes: boolean;
  /** Of a body; 0 where none is taken. */
  bytes_max: number;
}

const stage = new Stage();
let name: string;
let doors: Door[];

beforeAll(async () => {
  const source = join(stage.root, 'source.csv');
  writeFileSync(source, ['t_s,current_mA', ...Array.from({ length: 600 }, (_, s) => `${s},20`)].join('\n'));
  await importCsv(source, join(stage.dir, 'night.nightdraw'), { software: 'test', created_ms: 0, job: '' });
  writeFileSync(join(stage.root, 'outside.csv'), SECRET);
  writeFileSync(join(stage.dir, 'notes.txt'), SECRET);
  mkdirSync(join(stage.dir, 'folder.csv'));
  symlinkSync(join(stage.root, 'outside.csv'), join(stage.dir, 'escape.csv'));
  const port = stage.plug({ id: 5 });
  await stage.serve({ patience: PATIENCE, makeReport: reportsInThreads({}, []) });
  await stage.findBoards();
  name = recording.parse(JSON.parse((await stage.change('POST', '/api/recordings', { port })).text)).name;
  const { paths } = JSON.parse((await stage.ask('/api')).text) as Description;
  doors = Object.entries(paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, told]) => {
      const { parameters, requestBody } = told as {
        parameters: { name: string; in: string }[];
        requestBody?: { 'x-bytes-max': number };
      };
      return {
        method: method.toUpperCase(),
        path,
        query: parameters.filter((p) => p.in === 'query').map((p) => p.name),
        writes: requestBody !== undefined,
        bytes_max: requestBody?.['x-bytes-max'] ?? 0,
      };
    }),
  );
});
afterAll(() => stage.close());

const go = (
  { method, path, writes }: Door,
  body: unknown = {},
  headers: Record<string, string> = {},
): Promise<Answer> => (writes ? stage.change(method, path, body, headers) : stage.ask(path, { method, headers }));

function expectRefused({ status, text }: Answer, allowed: number[], what: string): void {
  expect(allowed, `${what} is answered with ${text}`).toContain(status);
  problem.parse(JSON.parse(text));
  expect(text).not.toContain(SECRET);
  expect(text).not.toContain(stage.root);
}

/** A question that each route would take. */
const MORE: Record<string, string> = { overview: '?from_s=0&to_s=10&bins=2', report: '?format=pdf' };

/** A body that each write would take, so that only the name can be wrong. */
function bodyFor(path: string): object {
  if (path.endsWith('/marks')) return { t_s: 1, text: 'x' };
  return path.endsWith('/details') ? { job: 'x' } : {};
}

describe('path traversal', () => {
  const elsewhere = [
    '..%2foutside.csv',
    '%2e%2e%2foutside.csv',
    '..%5coutside.csv',
    '%2fetc%2fpasswd',
    '%00',
    'a%00.csv',
    '%2e%2e',
    '.hidden.csv',
    'escape.csv',
    'folder.csv',
    'notes.txt',
    '%252e%252e%252foutside.csv',
    'a'.repeat(300),
    '%zz',
    '__proto__',
    'constructor',
  ];

  test('in the name of every route', async () => {
    const named = doors.filter(({ path }) => path.includes('{name}'));
    expect(named.length).toBeGreaterThanOrEqual(9);
    for (const door of named) {
      for (const bad of elsewhere) {
        const path = door.path.replace('{name}', bad) + (MORE[door.path.split('/').at(-1)!] ?? '');
        expectRefused(await go({ ...door, path }, bodyFor(door.path)), [400, 404], `${door.method} ${path}`);
      }
    }
  });

  test('in every part of every question, and in every text of an order', async () => {
    for (const door of doors) {
      for (const part of [...door.query, 'more']) {
        const whole = MORE[door.path.split('/').at(-1)!];
        const path = `${door.path.replace('{name}', 'night.nightdraw')}${whole === undefined ? '?' : `${whole}&`}${part}=..%2f..%2foutside.csv`;
        // A source is a text that anybody may write: it only stands in the answer.
        if (part === 'allowance_source') continue;
        // A search may be for any text, and finds only what has it in its own words.
        if (part === 'search') {
          const { status, text } = await go({ ...door, path });
          expect([status, (JSON.parse(text) as { captures: unknown }).captures]).toEqual([200, []]);
          continue;
        }
        expectRefused(await go({ ...door, path }, bodyFor(door.path)), [400, 404], `${door.method} ${path}`);
      }
    }
    for (const order of [
      { resume: '../outside.csv' },
      { resume: '/etc/passwd' },
      { resume: 'a\0.nightdraw' },
      { port: '' },
    ])
      expectRefused(await stage.change('POST', '/api/recordings', order), [400], JSON.stringify(order));
    for (const order of [{ port: '/etc/passwd' }, { port: '../outside.csv' }, { resume: 'escape.csv' }])
      expectRefused(await stage.change('POST', '/api/recordings', order), [404], JSON.stringify(order));
  });
});

describe('strangers, at every route', () => {
  const at = (door: Door) => ({ ...door, path: door.path.replace('{name}', 'night.nightdraw') });

  test('Host, Origin and Fetch metadata of elsewhere', async () => {
    for (const door of doors.map(at)) {
      const strange = [
        { host: 'evil.example' },
        { host: `evil.example:${stage.port}` },
        { origin: 'http://evil.example' },
        { origin: 'null' },
        { origin: `http://localhost:${stage.port + 1}` },
        { 'sec-fetch-site': 'cross-site' },
        { 'sec-fetch-site': 'same-site' },
      ];
      for (const headers of strange)
        expectRefused(await go(door, {}, headers), [403], `${door.method} ${door.path} ${JSON.stringify(headers)}`);
    }
  });

  test('a write without an Origin, or as a form could send it', async () => {
    for (const door of doors.map(at).filter(({ writes }) => writes)) {
      const bare = await stage.ask(door.path, {
        method: door.method,
        headers: { 'content-type': 'application/json' },
        body: '{}',
      });
      expectRefused(bare, [403], `${door.method} ${door.path} without Origin`);
      for (const type of ['text/plain', 'application/x-www-form-urlencoded', 'multipart/form-data; boundary=x', ''])
        expectRefused(await go(door, {}, { 'content-type': type }), [415], `${door.method} ${door.path} ${type}`);
    }
  });
});

describe('text that means something elsewhere', () => {
  const HOSTILE = [
    '<script>alert(1)</script>',
    '"><img src=x onerror=alert(1)>',
    '=1+1',
    '\u202Egnp.exe',
    "'; DROP TABLE mark; --",
    '${7*7}',
    '</textarea>&lt;',
  ];
  const night = '/api/captures/night.nightdraw';

  test.each(HOSTILE)('%j is kept as it is, and sent as JSON alone', async (text) => {
    const change = { job: text, plate: text.slice(0, 40), vehicle: text, customer: text };
    const told = await stage.change('PATCH', `${night}/details`, change);
    expect([told.status, JSON.parse(told.text)]).toEqual([200, change]);
    expect((await stage.change('POST', `${night}/marks`, { t_s: 12.5, text })).status).toBe(201);
    const info = await stage.ask(night);
    expect(nightInfo.parse(JSON.parse(info.text))).toMatchObject({ job: text, marks: [{ t_s: 12.5, text }] });
    expect(info.headers).toMatchObject({
      'content-type': 'application/json; charset=utf-8',
      'x-content-type-options': 'nosniff',
    });
    expect((await stage.change('DELETE', `${night}/marks`, { t_s: 12.5, text })).status).toBe(200);
    expect((await stage.change('DELETE', `${night}/marks`, { t_s: 12.5, text })).status).toBe(404);
  });

  test('control characters and too much are refused', async () => {
    for (const job of ['a\0b', 'a\u001b[2J', 'x'.repeat(501)])
      expectRefused(await stage.change('PATCH', `${night}/details`, { job }), [400], job.slice(0, 9));
    for (const body of [
      { t_s: 1, text: '' },
      { t_s: -1, text: 'x' },
      { t_s: '1', text: 'x' },
      { t_s: 1e10, text: 'x' },
      { t_s: 1, text: 'x', more: 1 },
    ])
      expectRefused(await stage.change('POST', `${night}/marks`, body), [400], JSON.stringify(body));
    const csv = await stage.change('POST', '/api/captures/escape.csv/marks', { t_s: 1, text: 'x' });
    expect(csv.status).toBe(404);
  });
});

test('bodies too large, broken, of the wrong shape or packed, at every write', async () => {
  for (const door of doors
    .filter(({ writes }) => writes)
    .map((d) => ({ ...d, path: d.path.replace('{name}', 'night.nightdraw') }))) {
    const at = `${door.method} ${door.path}`;
    expectRefused(await go(door, JSON.stringify({ x: 'x'.repeat(door.bytes_max) })), [413], at);
    for (const body of [
      '{',
      '{"a":',
      'null',
      '[]',
      '"x"',
      '7',
      '[[[[',
      '{"__proto__":{"a":1}}',
      '{"unknown":1}',
      '['.repeat(9000),
      '\u0000',
      '{"t_s":1e999,"text":"x"}',
    ]) {
      expectRefused(await go(door, body), [400], `${at} ${body.slice(0, 20)}`);
    }
    expectRefused(await go(door, '{}', { 'content-encoding': 'gzip' }), [415], at);
    expectRefused(await go(door, '{}', { 'content-type': 'application/json; charset=iso-8859-1' }), [415], at);
  }
});

/** What comes back for raw bytes, once the connection is closed. */
function raw(...parts: string[]): Promise<{ text: string }> {
  return new Promise((resolve) => {
    let text = '';
    const socket = connect(stage.port, '127.0.0.1', () => parts.forEach((part) => socket.write(part)));
    const end = () => resolve({ text });
    socket
      .setEncoding('utf8')
      .on('data', (part: string) => (text += part))
      .on('close', end)
      .on('error', end);
  });
}

test('slow and torn requests give their place back, and others are answered meanwhile', async () => {
  const host = `Host: 127.0.0.1:${stage.port}\r\n`;
  const write = `POST /api/boards/search HTTP/1.1\r\n${host}Origin: ${stage.origin}\r\nContent-Type: application/json\r\n`;
  const slow = Array.from({ length: 100 }, (_, i) =>
    i % 2 === 0 ? raw('GET /api HTTP/1.1\r\n', host) : raw(`${write}Content-Length: 100\r\n\r\n{`),
  );
  expect((await stage.ask('/api/recordings')).status).toBe(200);
  for (const { text } of await Promise.all(slow)) expect(text).toMatch(/^HTTP\/1\.1 408 /);
  expect((await raw(`GET /api HTTP/1.1\r\n${host}X: ${'x'.repeat(70_000)}\r\n\r\n`)).text).toMatch(/^HTTP\/1\.1 431 /);
  expect((await raw('nonsense\r\n\r\n')).text).toMatch(/^HTTP\/1\.1 400 /);
  expect((await raw(`${write}Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n`)).text).toMatch(
    /^HTTP\/1\.1 400 /,
  );
});

test('after all this, recording lost no reading and the server met no fault', async () => {
  // The attacks before may have taken less than three seconds.
  await until(() => stage.boards[0]!.sent.length > 100, 'readings');
  expect(
    recording.parse(JSON.parse((await stage.change('POST', `/api/recordings/${name}/stop`, {})).text)),
  ).toMatchObject({ state: 'ended', line: { lost: 0, damaged: 0 } });
  expectWhole(stage, name, stage.boards[0]!, 60);
  expect(stage.logged).toEqual([]);
});
