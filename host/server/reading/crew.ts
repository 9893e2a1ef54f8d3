// Two worker threads that answer about files: one draws and writes, one analyses, so
// that a long analysis keeps no picture waiting; it begins when the pictures are drawn.
// A thread that dies is replaced at the next question.

import type { Worker } from 'node:worker_threads';
import { ITSELF } from '../asker.ts';
import type { Asker } from '../asker.ts';
import { Json } from '../json.ts';
import { newThread } from '../new-thread.ts';
import { NobodyWaits } from '../problem.ts';
import { Desk, readersAt } from './desk.ts';
import { Lanes } from './lanes.ts';
import type { Waiting } from './lanes.ts';
import type { Asking, Readers } from './desk.ts';
import type { Question, Reply, ThreadManner } from './thread.ts';

/** Nothing was asked for so long: whoever opened a night has its picture. */
const REST_MS = 100;
/** An analysis waits no longer than this for a rest. */
const REST_WITHIN_MS = 3000;

interface Asked extends Waiting {
  question: Question;
  resolve: (value: unknown) => void;
  reject: (error: Error) => void;
}

/** How soon an asker who had not taken the last answer is looked at again. */
const TAKES_AGAIN_MS = 50;

class Hand {
  private thread: Worker | null = null;
  private readonly lanes = new Lanes<Asked>();
  private asked: Asked | null = null;
  private again: NodeJS.Timeout | null = null;
  private last_ms = -Infinity;
  private closed = false;

  constructor(
    private readonly log: (line: string) => void,
    private readonly manner: ThreadManner,
  ) {}

  /** Begins before anything is asked. */
  ready(): void {
    this.thread ??= this.begin();
  }

  ask(asking: Asking, words: unknown[], asker: Asker, isQuick: boolean): Promise<unknown> {
    if (this.closed) return Promise.reject(new Error('the server is stopping'));
    this.last_ms = performance.now();
    return new Promise((resolve, reject) => {
      this.lanes.add(
        { question: { asking, words }, asker, resolve, reject, drop: () => reject(new NobodyWaits()) },
        isQuick,
      );
      this.goOn();
    });
  }

  /** One question is with the thread at a time: another may have become more urgent, or needless, meanwhile. */
  private goOn(): void {
    if (this.asked !== null || this.closed) return;
    this.asked = this.lanes.next();
    if (this.asked !== null) {
      this.ready();
      this.thread!.postMessage(this.asked.question);
    } else if (!this.lanes.empty) {
      this.again ??= setTimeout(() => {
        this.again = null;
        this.goOn();
      }, TAKES_AGAIN_MS);
    }
  }

  /** Resolves when everything asked so far is answered and nothing more comes for a moment. */
  async rest(): Promise<void> {
    const end_ms = performance.now() + REST_WITHIN_MS;
    for (;;) {
      const now_ms = performance.now();
      const rested_ms = this.asked !== null || !this.lanes.empty ? 0 : now_ms - this.last_ms;
      if (rested_ms >= REST_MS || now_ms >= end_ms || this.closed) return;
      await new Promise((resolve) => setTimeout(resolve, REST_MS - rested_ms));
    }
  }

  private begin(): Worker {
    const thread = newThread(import.meta.url, 'reading-thread.js', this.manner);
    thread.on('message', (reply: Reply) => {
      const { asked } = this;
      this.asked = null;
      this.last_ms = performance.now();
      if ('trouble' in reply) asked?.reject(new Error(reply.trouble));
      else asked?.resolve('json' in reply ? new Json(reply.json) : reply.value);
      this.goOn();
    });
    thread.on('error', (error) => this.log(`a reading thread failed: ${error.message}`));
    thread.on('exit', () => this.gone(thread));
    return thread;
  }

  /** What it was at may be what ended it; the others are answered by the next. */
  private gone(thread: Worker): void {
    if (this.thread === thread) this.thread = null;
    const { asked } = this;
    this.asked = null;
    if (this.closed) for (const { reject } of this.lanes.all()) reject(new Error('the server is stopping'));
    asked?.reject(
      new Error(
        this.closed
          ? 'the server is stopping'
          : 'it could not be read to the end: the reading thread ended (a very large file may need more memory than there is); try again',
      ),
    );
    this.goOn();
  }

  async close(): Promise<void> {
    this.closed = true;
    if (this.again !== null) clearTimeout(this.again);
    if (this.thread === null) for (const { reject } of this.lanes.all()) reject(new Error('the server is stopping'));
    await this.thread?.terminate();
  }
}

/** @param log takes one line for each thread that died */
export function inThreads(log: (line: string) => void): Readers {
  const drawing = new Hand(log, { yields: false }),
    analysing = new Hand(log, { yields: true });
  // Whoever started the server wants to see a picture next.
  drawing.ready();
  const quickly =
    (asking: Asking) =>
    (...words: unknown[]) =>
      drawing.ask(asking, words, ITSELF, true);
  const quick = Object.keys(readersAt(new Desk())).map((asking) => [asking, quickly(asking as Asking)]);
  return {
    ...(Object.fromEntries(quick) as Readers),
    overview: (file, from_s, to_s, bins, asker = ITSELF) =>
      drawing.ask('overview', [file, from_s, to_s, bins], asker, false) as Promise<never>,
    // Two threads at once would only slow the picture, which is wanted first.
    findings: async (file, settings) => {
      await drawing.rest();
      return analysing.ask('findings', [file, settings], ITSELF, true) as Promise<never>;
    },
    close: async () => {
      await Promise.all([drawing.close(), analysing.close()]);
    },
  };
}
