// A server on a folder of its own with scripted boards, and a client that sends what it is told.
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { request } from 'node:http';
import type { IncomingHttpHeaders } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { hostClock } from '../../../host/commands/host-clock.ts';
import { openSerialPort } from '../../../host/link/serial-port.ts';
import { askPort } from '../../../host/link/find.ts';
import { realDisk } from '../../../host/recorder/disk.ts';
import { record } from '../../../host/recorder/record.ts';
import type { Workbench } from '../../../host/server/live/workbench.ts';
import { serve } from '../../../host/server/serve.ts';
import type { ServeOptions, Serving } from '../../../host/server/serve.ts';
import { boardAtHand } from '../../../host/commands/proved-board.ts';
import { ScriptedBoard } from '../recorder/scripted-board.ts';
import type { BoardOptions } from '../recorder/scripted-board.ts';

export interface Answer {
  status: number;
  headers: IncomingHttpHeaders;
  text: string;
}

/** Boards behind those ports, by the real finder and recorder. */
export function workbenchOf(ports: readonly string[]): Workbench {
  return {
    find: (except, signal) =>
      Promise.all(
        ports
          .filter((path) => !except.includes(path))
          .map(async (path) => {
            const { hello, certificate, trouble } = await askPort(
              { path, about: null },
              { time: hostClock, openPort: openSerialPort },
              signal,
            );
            return { port: path, about: null, hello, certificate, trouble: trouble?.message ?? null };
          }),
      ),
    record: (request) =>
      record({
        ...request,
        origin: null,
        software: 'test',
        low_V: null,
        disk: realDisk,
        listPorts: () => Promise.resolve([]),
        clock: hostClock,
        openPort: openSerialPort,
      }),
    prove: (port, by, signal) => boardAtHand(port, by, { clock: hostClock, openPort: openSerialPort }, signal),
    free_bytes: (path) => realDisk.free(path),
  };
}

export class Stage {
  readonly root = mkdtempSync(join(tmpdir(), 'nightdraw-server-'));
  readonly dir = join(this.root, 'captures');
  readonly pageDir = join(this.root, 'page');
  readonly boards: ScriptedBoard[] = [];
  readonly logged: string[] = [];
  private ports: string[] = [];
  serving!: Serving;

  constructor() {
    mkdirSync(this.dir);
    mkdirSync(this.pageDir);
    writeFileSync(join(this.pageDir, 'index.html'), '<!doctype html><title>page</title>');
  }

  plug(options: Omit<BoardOptions, 'link'> = {}): string {
    const port = join(this.root, `port${this.boards.length}`);
    this.boards.push(new ScriptedBoard({ link: port, ...options }));
    this.ports.push(port);
    return port;
  }

  async serve(more: Partial<ServeOptions> = {}): Promise<void> {
    this.serving = await serve({
      checksAnswers: true,
      clock: hostClock,
      dir: this.dir,
      pageDir: this.pageDir,
      port: 0,
      log: (line) => this.logged.push(line),
      bench: workbenchOf(this.ports),
      ...more,
    });
  }

  async close(): Promise<void> {
    await this.serving.close();
    this.boards.forEach((board) => board.stop());
    rmSync(this.root, { recursive: true, force: true });
  }

  get port(): number {
    return Number(new URL(this.serving.url).port);
  }

  get origin(): string {
    return `http://127.0.0.1:${this.port}`;
  }

  /** The path goes out as it is written: no client tidies dots away. */
  ask(
    path: string,
    {
      method = 'GET',
      headers = {},
      body,
      host = '127.0.0.1',
    }: { method?: string; headers?: Record<string, string>; body?: string; host?: string } = {},
  ): Promise<Answer> {
    return new Promise((resolve, reject) => {
      const asking = request(
        {
          host,
          port: this.port,
          path,
          method,
          headers: {
            connection: 'close',
            ...(body === undefined ? {} : { 'content-length': String(Buffer.byteLength(body)) }),
            ...headers,
          },
        },
        (response) => {
          let text = '';
          response
            .setEncoding('utf8')
            .on('data', (part: string) => (text += part))
            .on('end', () => resolve({ status: response.statusCode ?? 0, headers: response.headers, text }));
        },
      );
      asking.on('error', reject).end(body);
    });
  }

  /** As the page sends a change. */
  change(method: string, path: string, body: unknown, headers: Record<string, string> = {}): Promise<Answer> {
    return this.ask(path, {
      method,
      headers: { origin: this.origin, 'content-type': 'application/json', ...headers },
      body: typeof body === 'string' ? body : JSON.stringify(body),
    });
  }

  /** Looks for boards and waits until they are found. */
  async findBoards(): Promise<void> {
    await this.change('POST', '/api/boards/search', {});
    for (let i = 0; i < 1200; i++) {
      if (!(JSON.parse((await this.ask('/api/boards')).text) as { searching: boolean }).searching) return;
      await wait(50);
    }
    throw new Error('the search for boards did not end');
  }
}

export const wait = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

export async function until(condition: () => boolean | Promise<boolean>, what: string): Promise<void> {
  for (let i = 0; i < 6000; i++) {
    if (await condition()) return;
    await wait(10);
  }
  throw new Error(`waited 60 s for: ${what}`);
}
