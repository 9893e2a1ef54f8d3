// Two worker threads that answer about files: one draws and writes, one analyses, so
// that a long analysis keeps no picture waiting; it begins when the pictures are drawn.
// A thread that dies is replaced at the next question.

import type { Worker } from 'node:worker_threads';
import { newThread } from '../new-thread.ts';
import type { Asking, Readers } from './readers.ts';
import type { Question, Reply, ThreadManner } from './thread.ts';

/** Nothing was asked for so long: whoever opened a night has its picture. */
const REST_MS = 100;
/** An analysis waits no longer than this for a rest. */
const REST_WITHIN_MS = 3000;

interface Waiting {
  resolve: (value: unknown) => void;
  reject: (error: Error) => void;
}

class Hand {
  private thread: Worker | null = null;
  private readonly waiting = new Map<number, Waiting>();
  private next = 0;
  private last_ms = -Infinity;
  private closed = false;

  constructor(private readonly log: (line: string) => void, private readonly manner: ThreadManner) {}

  /** Begins before anything is asked. */
  ready(): void {
    this.thread ??= this.begin();
  }

  ask(asking: Asking, words: unknown[]): Promise<unknown> {
    if (this.closed) return Promise.reject(new Error('the server is stopping'));
    const thread = (this.thread ??= this.begin());
    this.last_ms = performance.now();
    const id = this.next++;
    return new Promise((resolve, reject) => {
      this.waiting.set(id, { resolve, reject });
      thread.postMessage({ id, asking, words } satisfies Question);
    });
  }

  /** Resolves when everything asked so far is answered and nothing more comes for a moment. */
  async rest(): Promise<void> {
    const end_ms = performance.now() + REST_WITHIN_MS;
    for (;;) {
      const now_ms = performance.now();
      const rested_ms = this.waiting.size > 0 ? 0 : now_ms - this.last_ms;
      if (rested_ms >= REST_MS || now_ms >= end_ms || this.closed) return;
      await new Promise((resolve) => setTimeout(resolve, REST_MS - rested_ms));
    }
  }

  private begin(): Worker {
    const thread = newThread(import.meta.url, 'reading-thread.js', this.manner);
    thread.on('message', (reply: Reply) => {
      const waiting = this.waiting.get(reply.id);
      this.waiting.delete(reply.id);
      this.last_ms = performance.now();
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
  const drawing = new Hand(log, { yields: false }), analysing = new Hand(log, { yields: true });
  // Whoever started the server wants to see a picture next.
  drawing.ready();
  const by = (hand: Hand, asking: Asking) => (...words: unknown[]) => hand.ask(asking, words) as Promise<never>;
  return {
    info: by(drawing, 'info'),
    overview: by(drawing, 'overview'),
    details: by(drawing, 'details'),
    amend: by(drawing, 'amend'),
    unfinished: by(drawing, 'unfinished'),
    // Two threads at once would only slow the picture, which is wanted first.
    findings: async (file, settings) => {
      await drawing.rest();
      return analysing.ask('findings', [file, settings]) as Promise<never>;
    },
    close: async () => {
      await Promise.all([drawing.close(), analysing.close()]);
    },
  };
}
