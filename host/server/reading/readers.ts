// What the server asks of the files in the folder. Answered in worker threads
// (`crew.ts`), so that the server's own thread never waits for one.

import type { DetailsChange, MarkOrder } from '../../contract/api.ts';
import type { readersAt } from './desk.ts';

/** A file as `folder.ts` found it. A new version means that its content may have changed. */
export interface FileAt {
  path: string;
  version: string;
}

/** One change of a capture by hand. */
export type Amendment =
  | ({ kind: 'mark' } & MarkOrder)
  | ({ kind: 'unmark' } & MarkOrder)
  | { kind: 'details'; change: DetailsChange };

/**
 * All questions to a file, as `desk.ts` answers them; each rejects with an Error in one sentence where
 * the file cannot be read or changed. A new one is written there, and has its door in `routes-captures.ts`.
 */
export type Readers = ReturnType<typeof readersAt>;

export type Asking = Exclude<keyof Readers, 'close'>;

/** Questions that need the file alone, and are quickly answered. */
export type PlainAsking = Exclude<Asking, 'overview' | 'findings' | 'amend'>;
