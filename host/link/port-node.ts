// Whether the path that was opened still leads to the same device: a port that was
// torn out while it was read may neither end nor fail (github.com/serialport/bindings-cpp
// issue 162), but its name goes, or leads to another device when it is back.

import { statSync } from 'node:fs';

/** Tells one device behind a path from another; null where the system has no file for ports, or it is gone. */
export function portNode(path: string): string | null {
  try {
    const { ino, rdev } = statSync(path);
    return `${ino}/${rdev}`;
  } catch {
    return null;
  }
}
