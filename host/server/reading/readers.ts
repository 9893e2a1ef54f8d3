// What the server asks of the files in the folder. Answered in worker threads
// (`crew.ts`), so that the server's own thread never waits for one.

import type { Findings } from '../../contract/findings.ts';
import type { Settings } from '../../night/judge.ts';
import type { NightInfo, Details, DetailsChange, MarkOrder, Unfinished } from '../../contract/api.ts';
import type { Asker } from '../asker.ts';
import type { Json } from '../json.ts';

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

/** Each rejects with an Error in one sentence where the file cannot be read or changed. */
export interface Readers {
  info: (file: FileAt) => Promise<Omit<NightInfo, 'name'>>;
  /** An `Overview`, written. Rejects with `NobodyWaits` where its asker has gone before it was begun. */
  overview: (file: FileAt, from_s: number, to_s: number, bins: number, asker?: Asker) => Promise<Json>;
  findings: (file: FileAt, settings: Settings) => Promise<Findings>;
  details: (file: FileAt) => Promise<Details>;
  /** False where there was nothing to change. */
  amend: (file: FileAt, amendment: Amendment) => Promise<boolean>;
  /** Null for what is no unfinished recording. */
  unfinished: (file: FileAt) => Promise<Omit<Unfinished, 'name' | 'written_ms'> | null>;
  close: () => Promise<void>;
}

export type Asking = Exclude<keyof Readers, 'close'>;
