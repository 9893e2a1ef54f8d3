// This computer's key for the marks of cars in the index of captures (server/shelf/car.ts): made
// once, beside what else is kept for this user, and never with the captures.

import { randomBytes } from 'node:crypto';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';

/** @returns null where nothing can be kept: cars are told apart by their jobs then */
export function carKey(folder: string): string | null {
  const file = join(folder, 'car-key');
  const read = () => /^[0-9a-f]{64}$/.exec(readFileSync(file, 'utf8').trim())?.[0] ?? null;
  try {
    return read();
  } catch {
    try {
      mkdirSync(dirname(file), { recursive: true });
      // Of two servers that begin at once the second reads what the first wrote.
      writeFileSync(file, `${randomBytes(32).toString('hex')}\n`, { mode: 0o600, flag: 'wx' });
      return read();
    } catch {
      return null;
    }
  }
}
