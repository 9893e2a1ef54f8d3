// Two worker threads that answer about files: one draws and writes, one analyses, so
// that a long analysis keeps no picture waiting. A thread that dies is replaced at the
// next question.

import { Worker } from 'node:worker_threads';
import type { Asking, Readers } from './readers.ts';
import type { Question, Reply } from './thread.ts';

/** As built, the entry lies beside this file; run from the sources it needs their loader. */
function newThread(): Worker {
  const own = import.meta.url;
  if (own.endsWith('.ts')) {
    const entry = JSON.stringify(new URL('thread.ts', own).href);
    return new Worker(`import('tsx/esm/api').then(({ register }) => { register(); return import(${entry}); })`, { eval: true, execArgv: [] });
  }
  return new Worker(new URL('reading-thread.js', own));
}

interface Waiting {
  resolve: (value: unknown) => void;
  reject: (error: Error) => void;
}

class Hand {
  private thread: Worker | null = null;
  private readonly waiting = new Map<number, Waiting>();
  private next = 0;
  private closed = false;

  constructor(private readonly log: (line: string) => void) {}

  ask(asking: Asking, words: unknown[]): Promise<unknown> {
    if (this.closed) return Promise.reject(new Error('the server is stopping'));
    const thread = (this.thread ??= this.begin());
    const id = this.next++;
    return new Promise((resolve, reject) => {
      this.waiting.set(id, { resolve, reject });
      thread.postMessage({ id, asking, words } satisfies Question);
    });
  }

  private begin(): Worker {
    const thread = newThread();
    thread.on('message', (reply: Reply) => {
      const waiting = this.waiting.get(reply.id);
      this.waiting.delete(reply.id);
      if ('trouble' in reply) waiting?.reject(new Error(reply.trouble));
      else waiting?.resolve(reply.value);
    });
    thread.on('error', (error) => this.log(`a reading thread failed: ${error.message}`));
    thread.on('exit', () => this.gone(thread));
    return thread;
  }

  private gone(thread: Worker): void {
    if (this.thread === thread) this.thread = null;
    const all = [...this.waiting.values()];
    this.waiting.clear();
    for (const { reject } of all) reject(new Error(this.closed ? 'the server is stopping' : 'it could not be read to the end: the reading thread ended (a very large file may need more memory than there is); try again'));
  }

  async close(): Promise<void> {
    this.closed = true;
    await this.thread?.terminate();
  }
}

/** @param log takes one line for each thread that died */
export function inThreads(log: (line: string) => void): Readers {
  const drawing = new Hand(log), analysing = new Hand(log);
  const by = (hand: Hand, asking: Asking) => (...words: unknown[]) => hand.ask(asking, words) as Promise<never>;
  return {
    info: by(drawing, 'info'),
    overview: by(drawing, 'overview'),
    details: by(drawing, 'details'),
    amend: by(drawing, 'amend'),
    unfinished: by(drawing, 'unfinished'),
    findings: by(analysing, 'findings'),
    close: async () => {
      await Promise.all([drawing.close(), analysing.close()]);
    },
  };
}
