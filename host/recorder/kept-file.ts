// The capture file while it is recorded: sees that it is still where it was, puts it
// back where it was deleted, and saves it elsewhere where its name is taken.

import { rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { CaptureWriter, publish } from '../capture/store/writer.ts';
import type { Disk } from './disk.ts';

export class KeptFile {
  writer: CaptureWriter;
  /** What tells our file from another of its name. */
  private identity: string | null;

  /** @throws Error in one sentence where `out` is no capture or cannot be written */
  constructor(
    private readonly out: string,
    private readonly disk: Disk,
  ) {
    this.writer = new CaptureWriter(out);
    this.identity = disk.identity(out);
  }

  /**
   * Looks whether the capture is still where it was, and puts it back where it was deleted.
   * @returns what was done, in words, or null where nothing was wrong
   * @throws Error in one sentence, naming where it was saved, where its own name is taken or its folder gone
   */
  look(): string | null {
    const { out, disk } = this;
    const found = disk.identity(out);
    if (found === this.identity) return this.keepLog();
    const copy = saved(this.writer, [
      `${out}.rescue-${process.pid}`,
      join(tmpdir(), `${basename(out)}.rescue-${process.pid}`),
    ]);
    this.writer.close();
    if (found !== null)
      throw new Error(`${out} was replaced by another file while it was recorded; the recording is saved in ${copy}`);
    try {
      publish(copy, out);
    } catch (error) {
      throw new Error(
        `${out} was deleted while it was recorded and cannot be put back (${(error as Error).message}); the recording is saved in ${copy}`,
        { cause: error },
      );
    }
    rmSync(copy, { force: true });
    this.writer = new CaptureWriter(out);
    this.identity = disk.identity(out);
    return `${out} was deleted while it was recorded; it is back, with all that was recorded`;
  }

  /** A log that was deleted alone is made anew: what is in it would not survive this program. */
  private keepLog(): null {
    if (this.disk.identity(`${this.out}-wal`) !== null) return null;
    this.writer.close();
    this.writer = new CaptureWriter(this.out);
    return null;
  }
}

/** Saves all that was committed under the first of the names that can be written. */
function saved(writer: CaptureWriter, names: readonly string[]): string {
  let last: unknown;
  for (const name of names) {
    try {
      writer.rescue(name);
      return name;
    } catch (error) {
      last = error;
    }
  }
  throw last;
}
