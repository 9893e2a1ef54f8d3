// A TCP port that nobody is given unasked: below those that systems hand out, so that a
// server which is started again at its address finds it free.
import { createServer } from 'node:net';

const FIRST = 20_000;
const COUNT = 10_000;

/** @throws Error where all of them are taken */
export async function quietPort(): Promise<number> {
  for (let i = 0; i < COUNT; i++) {
    const port = FIRST + ((process.pid * 7 + i) % COUNT);
    if (await isFree(port)) return port;
  }
  throw new Error(`every TCP port from ${FIRST} to ${FIRST + COUNT - 1} is taken`);
}

function isFree(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const server = createServer();
    server.once('error', () => resolve(false));
    server.listen(port, () => server.close(() => resolve(true)));
  });
}
