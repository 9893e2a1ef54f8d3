// Entry of a worker thread: takes questions by message and answers them at its desk.

import { constants, setPriority } from 'node:os';
import { parentPort, workerData } from 'node:worker_threads';
import { Json } from '../json.ts';
import { Desk, readersAt } from './desk.ts';
import type { Asking } from './desk.ts';

/** The next is sent when this one is answered. */
export interface Question {
  asking: Asking;
  words: unknown[];
}

/** How a thread shares the processor. */
export interface ThreadManner {
  /** Recording, pictures and the browser go before it. */
  yields: boolean;
}

export type Reply = { value: unknown } | { json: Uint8Array<ArrayBuffer> } | { trouble: string };

const port = parentPort;
if (port === null) throw new Error('this is the entry of a worker thread');

// Linux takes 0 for the calling thread alone (man 2 setpriority, "C library/kernel differences"); elsewhere it would be
// all of the server.
if ((workerData as ThreadManner).yields && process.platform === 'linux')
  setPriority(0, constants.priority.PRIORITY_BELOW_NORMAL);

const readers = readersAt(new Desk());

port.on('message', ({ asking, words }: Question) => {
  const ask = readers[asking] as (...words: unknown[]) => Promise<unknown>;
  ask(...words).then(
    (value) => {
      if (value instanceof Json) port.postMessage({ json: value.bytes } satisfies Reply, [value.bytes.buffer]);
      else port.postMessage({ value } satisfies Reply);
    },
    (error: unknown) =>
      port.postMessage({ trouble: error instanceof Error ? error.message : String(error) } satisfies Reply),
  );
});
