// Who waits for an answer, so that work is done for those who do, and nobody waits behind
// all that one other asked.

import type { Request, Response } from 'express';

export interface Asker {
  /** Aborted when nobody is there any more to take the answer. */
  readonly gone: AbortSignal;
  /** Questions of one lane wait for each other; lanes take turns. */
  readonly lane: object;
  /** Whether the last answer has been taken: who reads none is given no more. */
  takes(): boolean;
}

/** The server itself, which waits for what it begins. */
export const ITSELF: Asker = { gone: new AbortController().signal, lane: {}, takes: () => true };

/** A connection is a lane. */
export function askerOf({ socket }: Request, response: Response): Asker {
  const gone = new AbortController();
  response.once('close', () => gone.abort());
  return { gone: gone.signal, lane: socket, takes: () => socket.writableLength === 0 };
}

/** All who wait for the same answer. */
export class Waiters {
  private readonly here = new Set<Asker>();

  join(asker: Asker): void {
    this.here.add(asker);
  }

  /** Whether one of them is still there; then, or not, nobody is held any more. */
  leave(): boolean {
    const any = [...this.here].some(({ gone }) => !gone.aborted);
    this.here.clear();
    return any;
  }
}
