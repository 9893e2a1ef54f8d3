// The disk under a capture: whether there is room for the night before it begins,
// whether it runs out while it is recorded, and whether the file is still there.

import { statfsSync, statSync } from 'node:fs';
import { dirname } from 'node:path';

/**
 * A night takes this much per second of the board's time at most: 20 windows of 7 bytes
 * (tests/bench/ceilings.json), and the same again until small blocks are merged.
 */
export const BYTES_PER_S = 300;

/**
 * The same with bursts, an eighth of the time by guess, and with every conversion: 950 a second of 2 bytes, and small
 * blocks.
 */
export const BYTES_PER_S_OF = { windows: BYTES_PER_S, bursts: 600, raw: 2600 } as const;

/**
 * Below this the recording is ended: SQLite's log may have grown to 4 MB (1000 pages)
 * that have to go into the file yet, and other programs write too.
 */
export const STOP_BELOW_BYTES = 8e6;

/** What the disk under a capture looks like from outside; an argument, so that a test can make one full. */
export interface Disk {
  /** Bytes that this user may still write beside `path`; null where the system does not tell. */
  free(path: string): number | null;
  /** Tells one file from another of the same name; null where none has the name. */
  identity(path: string): string | null;
}

export const realDisk: Disk = {
  free(path) {
    try {
      const { bavail, bsize } = statfsSync(dirname(path));
      return bavail * bsize;
    } catch {
      return null;
    }
  },
  identity(path) {
    const found = statSync(path, { throwIfNoEntry: false });
    return found === undefined ? null : `${found.dev}/${found.ino}`;
  },
};

/** In words: `2.1 GB`. */
export function sizeInWords(bytes: number): string {
  if (bytes >= 1e9) return `${(bytes / 1e9).toFixed(1)} GB`;
  return `${Math.round(bytes / 1e6)} MB`;
}

/**
 * Whether a recording of `length_s` may begin.
 * @returns a warning, or null
 * @throws Error in one sentence where there is no room to begin at all
 */
export function roomBefore(
  disk: Disk,
  path: string,
  length_s: number | null,
  bytesPerS: number = BYTES_PER_S,
): string | null {
  const free = disk.free(path);
  if (free === null) return null;
  if (free < STOP_BELOW_BYTES) {
    throw new Error(
      `${path} cannot be recorded: ${sizeInWords(free)} are free on its disk, and ${sizeInWords(STOP_BELOW_BYTES)} are the least; free some space or give another disk`,
    );
  }
  // Without a length, two nights of twelve hours: nobody leaves a car longer without saying so.
  const needed = (length_s ?? 86_400) * bytesPerS + STOP_BELOW_BYTES;
  if (free >= needed) return null;
  const lasts_h = (free - STOP_BELOW_BYTES) / bytesPerS / 3600;
  return `${sizeInWords(free)} are free on the disk of ${path}: enough for about ${lasts_h.toFixed(1)} h; free some space before the night`;
}

/** Why recording has to end now, or null. */
export function roomNow(disk: Disk, path: string): string | null {
  const free = disk.free(path);
  if (free === null || free >= STOP_BELOW_BYTES) return null;
  return `recording ended: ${sizeInWords(free)} are left on the disk of ${path}; all that was recorded is in it; free some space, then record on into the same file`;
}
