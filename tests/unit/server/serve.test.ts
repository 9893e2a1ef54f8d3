// The server: what it answers, and what it refuses: names that lead elsewhere,
// strangers' Host and Origin, numbers that are none, methods that write.
import { mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { Agent, request } from 'node:http';
import type { IncomingHttpHeaders } from 'node:http';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { hostClock } from '../../../host/commands/host-clock.ts';
import { nightInfo, captureList, findingsAnswer, overviewAnswer, problem } from '../../../host/contract/api.ts';
import type { CaptureList } from '../../../host/contract/api.ts';
import { serve } from '../../../host/server/serve.ts';
import type { Serving } from '../../../host/server/serve.ts';

const CSV = ['t_s,current_mA', ...Array.from({ length: 7200 }, (_, s) => `${s},${s < 600 ? 400 : 20}`)].join('\n');
const SECRET = 'the secret outside';

let root: string;
let serving: Serving;
const logged: string[] = [];

beforeAll(async () => {
  root = mkdtempSync(join(tmpdir(), 'nightdraw-server-'));
  const dir = join(root, 'captures');
  const pageDir = join(root, 'page');
  mkdirSync(dir);
  mkdirSync(pageDir);
  mkdirSync(join(dir, 'folder.csv'));
  writeFileSync(join(pageDir, 'index.html'), '<!doctype html><title>page</title>');
  writeFileSync(join(dir, 'night one & "two".csv'), CSV);
  writeFileSync(join(dir, 'broken.csv'), 'no,known,column\n1,2,3\n');
  writeFileSync(join(dir, 'notes.txt'), SECRET);
  writeFileSync(join(dir, '.hidden.csv'), CSV);
  writeFileSync(join(root, 'outside.csv'), `${CSV}\n`);
  writeFileSync(join(root, 'secret.txt'), SECRET);
  symlinkSync(join(root, 'outside.csv'), join(dir, 'escape.csv'));
  symlinkSync(join(dir, 'night one & "two".csv'), join(dir, 'inside.csv'));
  symlinkSync(join(root, 'nowhere.csv'), join(dir, 'dangling.csv'));
  serving = await serve({
    checksAnswers: true,
    clock: hostClock,
    dir,
    port: 0,
    pageDir,
    log: (line) => logged.push(line),
  });
});
afterAll(async () => {
  await serving.close();
  rmSync(root, { recursive: true, force: true });
});

interface Answer {
  status: number;
  headers: IncomingHttpHeaders;
  text: string;
}

/** The path goes out as it is written: no client tidies dots away. */
function ask(path: string, headers: Record<string, string> = {}, method = 'GET'): Promise<Answer> {
  const { port } = new URL(serving.url);
  return new Promise((resolve, reject) => {
    const asking = request(
      { host: '127.0.0.1', port, path, method, headers: { connection: 'close', ...headers } },
      (response) => {
        let text = '';
        response
          .setEncoding('utf8')
          .on('data', (part: string) => (text += part))
          .on('end', () => resolve({ status: response.statusCode ?? 0, headers: response.headers, text }));
      },
    );
    asking.on('error', reject).end();
  });
}

/** On a connection that is kept. */
function fetchBy(agent: Agent, path: string): Promise<{ status: number }> {
  return new Promise((resolve, reject) => {
    request(new URL(path, serving.url), { agent }, (response) => {
      response.resume().on('end', () => resolve({ status: response.statusCode ?? 0 }));
    })
      .on('error', reject)
      .end();
  });
}

const NIGHT = `/api/captures/${encodeURIComponent('night one & "two".csv')}`;

async function expectProblem(answer: Promise<Answer> | Answer, status: number, code: string): Promise<string> {
  const { status: got, text, headers } = await answer;
  expect([got, headers['content-type']]).toEqual([status, 'application/json; charset=utf-8']);
  const { error } = problem.parse(JSON.parse(text));
  expect(error.code).toBe(code);
  expect(text).not.toContain(SECRET);
  expect(text).not.toContain(root);
  return error.message;
}

describe('answers', () => {
  test('the list holds captures and CSV files inside the folder, and in time their verdicts', async () => {
    let list: CaptureList = { captures: [], found: 0, total: 0, version: '' };
    for (let i = 0; i < 1200; i++) {
      list = captureList.parse(JSON.parse((await ask('/api/captures')).text));
      if (list.captures.every((c) => c.state !== 'waiting')) break;
      await new Promise((resolve) => setTimeout(resolve, 50));
    }
    expect(list.captures.map((c) => [c.name, c.state])).toEqual([
      ['inside.csv', 'ready'],
      ['night one & "two".csv', 'ready'],
      ['broken.csv', 'unreadable'],
    ]);
    const night = list.captures[1]!;
    expect(night).toMatchObject({ start: null, duration_s: 7199, verdict: { code: 'within' } });
  });

  test('what a capture says of itself', async () => {
    const info = nightInfo.parse(JSON.parse((await ask(NIGHT)).text));
    expect(info).toMatchObject({ name: 'night one & "two".csv', samples: 7200, duration_s: 7199, start_ms: null });
  });

  test('findings are those of the analysis', async () => {
    const findings = findingsAnswer.parse(JSON.parse((await ask(`${NIGHT}/findings`)).text));
    expect(findings.steps).toHaveLength(1);
    expect(findings.steps[0]!.t_s).toBeCloseTo(600, -1);
    expect(findings.asleep!.level_mA).toBeCloseTo(20, 1);
  });

  test('an overview has as many bins as asked, with their means', async () => {
    const overview = overviewAnswer.parse(JSON.parse((await ask(`${NIGHT}/overview?from_s=0&to_s=1200&bins=4`)).text));
    // The point at 600 s stands for the half second before it as well.
    expect(overview.mean_mA).toEqual([400, expect.closeTo((299.5 * 400 + 0.5 * 20) / 300, 5), 20, 20]);
    expect(overview).toMatchObject({ from_s: 0, to_s: 1200 });
  });

  test('every answer forbids foreign script, framing and sniffing', async () => {
    for (const path of ['/', '/api/captures', '/nothing']) {
      const { headers } = await ask(path);
      const policy = String(headers['content-security-policy']);
      expect(policy).toContain("default-src 'none'");
      expect(policy).toContain("script-src 'self'");
      expect(policy).not.toMatch(/unsafe|\*|https?:/);
      expect(headers['x-content-type-options']).toBe('nosniff');
      expect(headers['x-powered-by']).toBeUndefined();
    }
  });
});

describe('names', () => {
  const elsewhere = [
    '../outside.csv',
    '..%2foutside.csv',
    '%2e%2e%2foutside.csv',
    '..%5coutside.csv',
    '....%2f%2foutside.csv',
    '%2fetc%2fpasswd',
    '%00',
    'a%00.csv',
    '..',
    '%2e%2e',
    '.',
    '.hidden.csv',
    'escape.csv',
    'dangling.csv',
    'folder.csv',
    'notes.txt',
    'secret.txt',
    'absent.csv',
    `${'a'.repeat(300)}.csv`,
    '%252e%252e%252foutside.csv',
  ];
  test.each(elsewhere)('%s is not answered, in any question', async (name) => {
    for (const rest of ['', '/findings', '/overview?from_s=0&to_s=10&bins=2']) {
      const answer = await ask(`/api/captures/${name}${rest}`);
      expect([400, 404]).toContain(answer.status);
      problem.parse(JSON.parse(answer.text));
      expect(answer.text).not.toContain(SECRET);
      expect(answer.text).not.toContain(root);
    }
  });

  test('a link that stays inside the folder is followed', async () => {
    expect((await ask('/api/captures/inside.csv')).status).toBe(200);
  });

  test('a malformed percent sign is a bad request, not a fault', async () => {
    await expectProblem(ask('/api/captures/%zz'), 400, 'bad-request');
  });

  test('a file that is no capture is told in one sentence', async () => {
    const message = await expectProblem(ask('/api/captures/broken.csv/findings'), 422, 'unreadable');
    expect(message).toMatch(/^broken\.csv has no known column/);
    expect(message).not.toContain('\n');
  });

  test("the page's folder is not left either", async () => {
    for (const path of [
      '/../secret.txt',
      '/%2e%2e/secret.txt',
      '/..%2fsecret.txt',
      '/..%5csecret.txt',
      '//etc/passwd',
      '/assets/../../secret.txt',
    ]) {
      const answer = await ask(path);
      expect([400, 403, 404]).toContain(answer.status);
      expect(answer.text).not.toContain(SECRET);
    }
  });
});

describe('numbers', () => {
  test.each([
    'from_s=0&to_s=10',
    'from_s=0&bins=5',
    '',
    'from_s=x&to_s=10&bins=5',
    'from_s=0&to_s=10&bins=0',
    'from_s=0&to_s=10&bins=-5',
    'from_s=0&to_s=10&bins=2.5',
    'from_s=0&to_s=10&bins=4001',
    'from_s=0&to_s=10&bins=1e9',
    'from_s=10&to_s=10&bins=5',
    'from_s=11&to_s=10&bins=5',
    'from_s=NaN&to_s=10&bins=5',
    'from_s=0&to_s=Infinity&bins=5',
    'from_s=0&to_s=1e400&bins=5',
    'from_s=0x10&to_s=90&bins=5',
    'from_s=%20&to_s=10&bins=5',
    'from_s=0&to_s=10&bins=5&bins=6',
    'from_s=0&to_s=10&bins=5&more=1',
    'from_s[]=0&to_s=10&bins=5',
    '__proto__=1&from_s=0&to_s=10&bins=5',
  ])('overview?%s is refused', async (query) => {
    await expectProblem(ask(`${NIGHT}/overview?${query}`), 400, 'bad-question');
  });

  test('other questions take no parameters', async () => {
    for (const path of ['/api/captures?a=1', `${NIGHT}?a=1`, `${NIGHT}/findings?allow=5`])
      await expectProblem(ask(path), 400, 'bad-question');
  });

  test('each setting that is wrong is told, not the first alone', async () => {
    const asked = ask(`${NIGHT}/findings?capacity_Ah=9999&dead_after_days=x&allowance_mA=50`);
    const message = await expectProblem(asked, 400, 'bad-question');
    expect(message).toMatch(/^capacity_Ah: 9999 is not a number .+\. dead_after_days: x is not a number /);
    expect(message).not.toContain('allowance_mA');
  });

  test('a stretch outside the night is answered, empty', async () => {
    const overview = overviewAnswer.parse(
      JSON.parse((await ask(`${NIGHT}/overview?from_s=-100&to_s=-50&bins=3`)).text),
    );
    expect(overview.mean_mA).toEqual([null, null, null]);
  });
});

describe('strangers', () => {
  test.each([
    'evil.example',
    'evil.example:80',
    '127.0.0.1',
    '127.0.0.1:1',
    '127.0.0.1.evil.example',
    'localhost',
    '0.0.0.0',
    '192.168.0.5',
    'a@127.0.0.1',
  ])('Host %j is refused', async (host) => {
    const { port } = new URL(serving.url);
    const named =
      host.startsWith('127.0.0.1.') || host.includes('@') || host.startsWith('192') ? `${host}:${port}` : host;
    for (const path of ['/', '/api/captures']) await expectProblem(ask(path, { host: named }), 403, 'foreign-host');
  });

  test.each(['GET /api/captures HTTP/1.0\r\n\r\n', 'GET /api/captures HTTP/1.1\r\nHost:\r\nConnection: close\r\n\r\n'])(
    'no Host at all is refused: %j',
    async (head) => {
      const { port } = new URL(serving.url);
      const text = await new Promise<string>((resolve, reject) => {
        let got = '';
        const socket = connect(Number(port), '127.0.0.1', () => socket.write(head));
        socket
          .setEncoding('utf8')
          .on('data', (part: string) => (got += part))
          .on('end', () => resolve(got))
          .on('error', reject);
      });
      expect(text).toMatch(/^HTTP\/1\.1 (400|403) /);
      expect(text).not.toContain('night one');
    },
  );

  test('loopback by any of its names is answered', async () => {
    const { port } = new URL(serving.url);
    for (const host of [`127.0.0.1:${port}`, `localhost:${port}`, `LOCALHOST:${port}`, `[::1]:${port}`])
      expect((await ask('/api/captures', { host })).status).toBe(200);
  });

  test.each(['http://evil.example', 'https://127.0.0.1', 'null', 'http://127.0.0.1:1', 'http://localhost', 'file://'])(
    'Origin %s is refused',
    async (origin) => {
      await expectProblem(ask('/api/captures', { origin }), 403, 'foreign-origin');
    },
  );

  test("its own Origin is answered, another site's fetch is not", async () => {
    expect((await ask('/api/captures', { origin: serving.url.replace(/\/$/, '') })).status).toBe(200);
    for (const path of ['/api/captures', '/API/captures', '/Api/captures', '/api//captures', '/%61pi/captures']) {
      const { status, text } = await ask(path, { 'sec-fetch-site': 'cross-site' });
      expect([path, status === 404 || status === 403, text.includes('night one')]).toEqual([path, true, false]);
    }
    await expectProblem(ask('/API/captures', { 'sec-fetch-site': 'cross-site' }), 403, 'foreign-site');
    await expectProblem(ask('/api/captures', { 'sec-fetch-site': 'cross-site' }), 403, 'foreign-site');
  });

  test.each(['POST', 'PUT', 'PATCH', 'DELETE'])('%s is refused where nothing is changed', async (method) => {
    const answer = await ask('/api/captures', {}, method);
    await expectProblem(answer, 405, 'method');
    expect(answer.headers.allow).toBe('GET, HEAD');
  });

  test('a connection that asks without end and reads nothing is ended, others are answered', async () => {
    const { port } = new URL(serving.url);
    const one = `GET ${NIGHT}/overview?from_s=0&to_s=7000&bins=3000 HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\n\r\n`;
    const answers = await new Promise<number>((resolve) => {
      let got = '';
      const socket = connect(Number(port), '127.0.0.1', () => socket.write(one.repeat(5000)));
      socket
        .setEncoding('latin1')
        .on('data', (part: string) => (got += part))
        .on('error', () => undefined)
        .on('close', () => resolve(got.split('HTTP/1.1 ').length - 1));
    });
    expect(answers).toBeLessThanOrEqual(8);
    expect((await ask('/api/captures')).status).toBe(200);
    // One after the other, on one connection, as a browser does, there is no end to it.
    const agent = new Agent({ keepAlive: true, maxSockets: 1 });
    for (let i = 0; i < 30; i++) expect((await fetchBy(agent, '/api')).status).toBe(200);
    agent.destroy();
  });

  test('HEAD of the live stream ends', async () => {
    expect((await ask('/api/live', {}, 'HEAD')).status).toBe(200);
  });

  test('it listens on loopback alone', () => {
    expect(new URL(serving.url).hostname).toBe('127.0.0.1');
  });
});

describe('starting', () => {
  const options = () => ({
    clock: hostClock,
    dir: join(root, 'captures'),
    port: 0,
    pageDir: join(root, 'page'),
    log: () => undefined,
  });

  test('a folder that is not there is named', async () => {
    await expect(serve({ ...options(), dir: join(root, 'absent') })).rejects.toThrow(/absent' is no folder; .*--dir/);
  });
  test('a page that is not built is told', async () => {
    await expect(serve({ ...options(), pageDir: root })).rejects.toThrow(/not built .*npm run build/);
  });
  test('a port that is taken is told', async () => {
    const port = Number(new URL(serving.url).port);
    await expect(serve({ ...options(), port })).rejects.toThrow(`port ${port} is in use; choose another with --port`);
  });
  test('after close nobody answers', async () => {
    const again = await serve(options());
    await again.close();
    await expect(fetch(`${again.url}api/captures`)).rejects.toThrow();
  });
});

test('nothing of all this was a fault of the server itself', () => expect(logged).toEqual([]));
