// Who is answered next, of many that ask at once.
import express from 'express';
import { createServer } from 'node:http';
import type { Server } from 'node:http';
import { connect } from 'node:net';
import type { AddressInfo, Socket } from 'node:net';
import { afterEach, expect, test } from 'vitest';
import { fairShare } from '../../../host/server/share.ts';

let server: Server;
const sockets: Socket[] = [];
afterEach(() => {
  sockets.splice(0).forEach((socket) => socket.destroy());
  server.closeAllConnections();
  server.close();
});

/** A server that notes in which order it answers, each answer taking some milliseconds of the processor. */
async function serving(answered: string[]): Promise<number> {
  const app = express();
  app.use(fairShare());
  app.use((request, response) => {
    for (const end_ms = performance.now() + 2; performance.now() < end_ms;);
    answered.push(request.path);
    response.send('x'.repeat(100));
  });
  server = createServer(app);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return (server.address() as AddressInfo).port;
}

/** A connection that the server has taken: one is taken in each turn of its loop, and it has answered on it. */
function line(port: number): Promise<Socket> {
  return new Promise((resolve) => {
    const socket = connect(port, '127.0.0.1', () => socket.write(get('/first')));
    socket.once('data', () => resolve(socket.resume())).on('error', () => undefined);
    sockets.push(socket);
  });
}

const get = (path: string) => `GET ${path} HTTP/1.1\r\nHost: x\r\n\r\n`;

test('one that asks once does not wait for fifty that ask eight times in a row', async () => {
  const answered: string[] = [];
  const port = await serving(answered);
  const loud = await Promise.all(Array.from({ length: 50 }, () => line(port))),
    calm = await line(port);
  answered.length = 0;
  for (const socket of loud) socket.write(get('/loud').repeat(8));
  calm.write(get('/calm'));
  while (answered.length < 401) await new Promise((resolve) => setTimeout(resolve, 5));
  expect(answered.indexOf('/calm')).toBeLessThan(100);
});

test('more than eight in a row on one connection end it, and nobody else', async () => {
  const answered: string[] = [];
  const port = await serving(answered);
  const one = await line(port),
    other = await line(port);
  const closed = new Promise((resolve) => one.once('close', resolve));
  one.write(get('/flood').repeat(5000));
  await closed;
  other.write(get('/other'));
  while (!answered.includes('/other')) await new Promise((resolve) => setTimeout(resolve, 5));
  expect(answered.filter((path) => path === '/flood').length).toBeLessThanOrEqual(8);
});
