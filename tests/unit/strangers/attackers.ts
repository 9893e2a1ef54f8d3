// Runs as a process of its own, so that what it costs is not the server's: one kind of attack
// on the server at a port. Prints what came back as JSON, and ends.
import { request } from 'node:http';
import { connect } from 'node:net';
import type { Socket } from 'node:net';
import { setTimeout as pause } from 'node:timers/promises';

const port = Number(process.argv[2]);
const host = `Host: 127.0.0.1:${port}\r\n`;
const NIGHTS = ['wakes-often.nightdraw', 'steady-over.nightdraw'];

const get = (path: string, more = '') => `GET ${path} HTTP/1.1\r\n${host}${more}\r\n`;
const overview = (i: number, bins = 4000) =>
  get(`/api/captures/${NIGHTS[i % 2]!}/overview?from_s=${i % 500}&to_s=${20_000 + (i % 97)}&bins=${bins}`);
const findings = (i: number) => `/api/captures/${NIGHTS[i % 2]!}/findings?allowance_mA=${20 + i / 100}`;

/** Connected; what it is sent, and whether it was closed from the other side. */
interface Line {
  socket: Socket;
  text: string;
  bytes: number;
  closed: boolean;
}

function line({ reads } = { reads: true }): Promise<Line> {
  return new Promise((resolve) => {
    const one: Line = { socket: connect(port, '127.0.0.1', () => resolve(one)), text: '', bytes: 0, closed: false };
    one.socket.on('error', () => undefined).on('close', () => (one.closed = true));
    if (reads)
      one.socket.on('data', (part: Buffer) => {
        one.bytes += part.length;
        if (one.text.length < 2000) one.text += part.toString('latin1');
      });
  });
}

const lines = (n: number, how = { reads: true }) => Promise.all(Array.from({ length: n }, () => line(how)));

function timed(path: string): Promise<{ ms: number; status: number }> {
  const begin_ms = performance.now();
  return new Promise((resolve, reject) => {
    request({ host: '127.0.0.1', port, path }, (response) =>
      response.resume().on('end', () => resolve({ ms: performance.now() - begin_ms, status: response.statusCode! })),
    )
      .on('error', reject)
      .end();
  });
}

/** What comes back for raw bytes within a time. */
async function raw(text: string, within_ms = 3000): Promise<Line> {
  const one = await line();
  one.socket.write(text);
  for (const end_ms = performance.now() + within_ms; !one.closed && performance.now() < end_ms;) await pause(10);
  one.socket.destroy();
  return one;
}

/** Stays for so long, and on until each connection has had an answer, or a minute is over; how many had. */
async function answeredAll(all: Awaited<ReturnType<typeof lines>>, least_ms: number): Promise<number> {
  const answered = () => all.filter(({ bytes }) => bytes > 0).length;
  await pause(least_ms);
  for (let i = 0; i < 600 && answered() < all.length; i++) await pause(100);
  all.forEach(({ socket }) => socket.destroy());
  return answered();
}

const ATTACKS: Record<string, () => Promise<unknown>> = {
  /** Two hundred analyses that nobody waits for, then one that somebody does. */
  abandoned: async () => {
    const before = await timed(findings(1));
    const all = await lines(200);
    all.forEach(({ socket }, i) => socket.write(get(findings(100 + i))));
    await pause(100);
    all.forEach(({ socket }) => socket.destroy());
    return { before, after: await timed(findings(3)) };
  },
  /** Five thousand questions in a row on one connection that reads nothing. */
  unread: async () => {
    const one = await line({ reads: false });
    for (let i = 0; i < 5000 && !one.closed; i++) one.socket.write(overview(i));
    await pause(1500);
    // A write shows that the other side has gone.
    one.socket.write('x');
    await pause(500);
    return { closed: one.closed };
  },
  /** Two thousand pictures, eight on each of 250 connections, all read. */
  pictures: async () => {
    const all = await lines(250);
    all.forEach(({ socket }, i) =>
      socket.write(Array.from({ length: 8 }, (_, k) => overview(8 * i + k, 1000)).join('')),
    );
    return { answered: await answeredAll(all, 3500) };
  },
  /** The same, and nobody reads. */
  'pictures unread': async () => {
    const all = await lines(250, { reads: false });
    all.forEach(({ socket }, i) => socket.write(Array.from({ length: 8 }, (_, k) => overview(8 * i + k)).join('')));
    await pause(3000);
    all.forEach(({ socket }) => socket.destroy());
    return {};
  },
  /** Eight hundred that never end their question. */
  slow: async () => {
    const all = await lines(800);
    all.forEach(({ socket }, i) =>
      socket.write(
        i % 2 === 0
          ? `GET /api HTTP/1.1\r\n${host}`
          : `POST /api/boards/search HTTP/1.1\r\n${host}Origin: http://127.0.0.1:${port}\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\n{`,
      ),
    );
    await pause(2000);
    all.forEach(({ socket }) => socket.destroy());
    return {};
  },
  /** Bodies that are announced too large: refused unread, and the connection closed. */
  bodies: async () => {
    const announced = `POST /api/boards/search HTTP/1.1\r\n${host}Origin: http://127.0.0.1:${port}\r\nContent-Type: application/json\r\nContent-Length: 10000000000\r\n\r\n`;
    const begin_ms = performance.now();
    const { text, closed } = await raw(announced);
    return { status: text.slice(9, 12), closed, ms: performance.now() - begin_ms };
  },
  /** The live stream asked for its head alone ends. */
  head: async () => {
    const { text } = await raw(`HEAD /api/live HTTP/1.1\r\n${host}Connection: close\r\n\r\n`);
    return { status: text.slice(9, 12) };
  },
  /** Another site, however the path is spelt. */
  elsewhere: async () => {
    const paths = [
      '/api/captures',
      '/API/captures',
      '/Api/Captures',
      '/api//captures',
      '//api/captures',
      '/%61pi/captures',
      '/api/captures/',
      '/./api/captures',
    ];
    const statuses: string[] = [];
    for (const path of paths)
      statuses.push((await raw(get(path, 'Sec-Fetch-Site: cross-site\r\nConnection: close\r\n'))).text.slice(9, 12));
    return { leaked: paths.filter((_, i) => statuses[i] === '200') };
  },
  /** Thirty reports, each of a whole night, that nobody waits for. */
  reports: async () => {
    const all = await lines(30);
    all.forEach(({ socket }, i) => socket.write(get(`/api/captures/${NIGHTS[i % 2]!}/report?format=pdf&paper=a4`)));
    await pause(1500);
    all.forEach(({ socket }) => socket.destroy());
    await pause(1500);
    return {};
  },
  /** A thousand lists and as many searches. */
  lists: async () => {
    const all = await lines(125);
    all.forEach(({ socket }, i) =>
      socket.write(
        Array.from(
          { length: 8 },
          (_, k) => get(`/api/captures?search=${'x'.repeat((i + k) % 50)}`) + get('/api/captures'),
        )
          .slice(0, 4)
          .join(''),
      ),
    );
    return { answered: await answeredAll(all, 2000) };
  },
};

/** Named one by one, so that the test tells which. */
const attack = ATTACKS[process.argv[3]!]!;
console.log(JSON.stringify(await attack()));
process.exit(0);
