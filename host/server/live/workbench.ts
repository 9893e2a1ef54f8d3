// What the server needs of the boards at this computer. Given to it from outside: the
// server opens no port by itself.

import type { Certificate, Hello, Personal } from '../../contract/capture.ts';
import type { LiveFeed } from '../../recorder/live.ts';
import type { Progress } from '../../recorder/record.ts';
import type { BoardToProve } from '../../prove/run.ts';

export interface FoundBoard {
  port: string;
  about: string | null;
  /** Null: no board answers there. */
  hello: Hello | null;
  /** That it was proved; null where it was not, or no board answers. */
  certificate: Certificate | null;
  /** Why not, with what to do. */
  trouble: string | null;
}

export interface RecordRequest {
  port: string;
  /** Path of the capture. */
  out: string;
  job: string | null;
  personal: Personal;
  /** Length in the board's time; null: until it is stopped. */
  for_s: number | null;
  /** Ends it cleanly. */
  signal: AbortSignal;
  live: LiveFeed;
  /**
   * Called about twice a second, after each transaction. What it throws ends the recording and leaves the capture
   * unfinished.
   */
  onProgress(progress: Progress): void;
  onNote: (text: string) => void;
}

export interface Workbench {
  /** Opens every port but those and asks what is there; takes some seconds. */
  find(except: readonly string[], signal: AbortSignal): Promise<FoundBoard[]>;
  /** Resolves when it ended as it should; rejects with an Error in one sentence. */
  record(request: RecordRequest): Promise<unknown>;
  /** Opens a board to be proved. Rejects with an Error in one sentence. @param by who proves it */
  prove(port: string, by: string, signal: AbortSignal): Promise<BoardToProve>;
  /** Room beside a file; null where the system does not tell. */
  free_bytes(path: string): number | null;
}
