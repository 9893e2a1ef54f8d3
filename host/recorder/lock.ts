// Keeps two recorders off one capture. The lock is the system's own on a small file
// beside the capture, so that it ends with the process however that ends; the file
// itself means nothing.

import { rmSync } from 'node:fs';
import { Database } from '../capture/format/sqlite.ts';
import type { Db } from '../capture/format/sqlite.ts';

export interface Lock {
  release(): void;
}

/**
 * @throws Error in one sentence where another recorder holds the capture, or the folder cannot be written.
 */
export function lockCapture(path: string): Lock {
  const lockPath = `${path}.lock`;
  let db: Db | undefined;
  try {
    db = new Database(lockPath, { timeout: 0 });
    db.exec('BEGIN EXCLUSIVE');
    // Never committed: it only finds out whether the folder takes writing.
    db.pragma('user_version = 1');
  } catch (error) {
    db?.close();
    if ((error as NodeJS.ErrnoException).code === 'SQLITE_BUSY') {
      throw new Error(`${path} is being recorded by another nightdraw; stop that one or give another name`, {
        cause: error,
      });
    }
    throw new Error(
      `${path} cannot be written (${(error as Error).message}); check that its folder exists and may be written to`,
      { cause: error },
    );
  }
  const held = db;
  return {
    release() {
      // Gone before it is free: whoever waits for it then locks a file of their own.
      // One that cannot be removed means nothing by itself.
      try {
        rmSync(lockPath, { force: true });
      } catch {
        // Left behind.
      }
      held.close();
    },
  };
}
