// Finds boards: opens each port, listens, and asks only what has spoken as a board does.

import type { Certificate, Hello } from '../contract/capture.ts';
import { Connection } from './connection.ts';
import type { Outside } from './connection.ts';
import { LinkError } from './port-errors.ts';
import type { ListPorts, PortEntry } from './ports.ts';

/** What is at a port: a board's hello, or why there is none. */
export interface Found {
  port: PortEntry;
  hello: Hello | null;
  /** That it was proved; null where it was not, or no board answers. */
  certificate: Certificate | null;
  trouble: LinkError | null;
}

/** Opens one port for some seconds at most and closes it again. */
export async function askPort(port: PortEntry, outside: Outside, signal: AbortSignal): Promise<Found> {
  const ignore = () => undefined;
  const connection = new Connection(
    port.path,
    { reading: ignore, hello: ignore, bad: ignore, closed: ignore },
    outside,
    'listening',
  );
  try {
    const { hello, certificate } = await connection.open(signal);
    return { port, hello, certificate: certificate ?? null, trouble: null };
  } catch (error) {
    if (!(error instanceof LinkError)) throw error;
    return { port, hello: null, certificate: null, trouble: error };
  } finally {
    await connection.close();
  }
}

/**
 * Asks all ports at once: the slow ones are those with nothing behind.
 * @throws Error where the system gives no list
 */
export async function findBoards(list: ListPorts, outside: Outside, signal: AbortSignal): Promise<Found[]> {
  const ports = await list();
  return Promise.all(ports.map((port) => askPort(port, outside, signal)));
}

/**
 * Where a board went that is no longer at `before`: ports that are new since then are
 * asked, once each, so that nobody else's device is opened again and again.
 */
export class Search {
  private readonly asked: Set<string>;

  private constructor(
    private readonly list: ListPorts,
    before: readonly string[],
  ) {
    this.asked = new Set(before);
  }

  /** Remembers which ports there are while all is well. Without a list nothing is ever found. */
  static async begin(list: ListPorts): Promise<Search> {
    const ports = await list().catch(() => []);
    return new Search(
      list,
      ports.map(({ path }) => path),
    );
  }

  /** Path of the board with that number, null where it is not found this time. */
  async look(id: number, outside: Outside, signal: AbortSignal): Promise<string | null> {
    const ports = await this.list().catch(() => []);
    const there = new Set(ports.map(({ path }) => path));
    // A name that was gone and is there again may lead to another device now.
    for (const path of [...this.asked]) if (!there.has(path)) this.asked.delete(path);
    for (const port of ports) {
      if (this.asked.has(port.path)) continue;
      this.asked.add(port.path);
      const { hello } = await askPort(port, outside, signal);
      if (hello?.id === id) return port.path;
    }
    return null;
  }
}
