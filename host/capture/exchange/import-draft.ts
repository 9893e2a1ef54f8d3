// Writes an imported capture: all of it or nothing.

import { existsSync, rmSync } from 'node:fs';
import { createCapture, publish, unwritable } from '../store/create.ts';
import { openCapture } from '../read/reader.ts';
import type { NewCapture } from '../store/create.ts';
import { CaptureWriter } from '../store/writer.ts';

/**
 * Writes an imported capture: `fill` appends to a draft, which gets its name only when all went well.
 * @throws whatever `fill` throws, or Error where `path` exists or cannot be written; nothing is left behind.
 */
export async function writeImported(
  path: string,
  about: NewCapture,
  fill: (writer: CaptureWriter) => Promise<void>,
): Promise<void> {
  if (existsSync(path)) throw new Error(`${path} exists already; give another name`);
  const draft = `${path}.draft-${process.pid}`;
  rmSync(draft, { force: true });
  createCapture(draft, about, path);
  const writer = new CaptureWriter(draft, { draft: true });
  try {
    await fill(writer);
    writer.finish();
    // What is imported must open again: what a stranger's file claims is held against the same limits.
    requireReadable(draft, path);
    try {
      publish(draft, path);
    } catch (error) {
      throw new Error(unwritable(path, error as NodeJS.ErrnoException), { cause: error });
    }
  } finally {
    writer.close();
    rmSync(draft, { force: true });
  }
}

function requireReadable(draft: string, path: string): void {
  try {
    const capture = openCapture(draft);
    capture.info();
    capture.close();
  } catch (error) {
    throw new Error((error as Error).message.replaceAll(draft, path), { cause: error });
  }
}
