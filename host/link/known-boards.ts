// Boards that were met before, by their own number: a small JSON file of this user's.
// It is a convenience: where it cannot be read or written nothing else changes.

import { mkdirSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { homedir } from 'node:os';
import { dirname, join } from 'node:path';
import type { Platform } from './port-errors.ts';

export interface KnownBoard {
  id: number;
  /** Where it was last. */
  path: string;
  /** When, milliseconds since 1970 UTC. */
  seen_ms: number;
}

/** The file's usual place (XDG Base Directory Specification on Linux). */
export function knownBoardsPath(platform: Platform, env: NodeJS.ProcessEnv): string {
  const home = homedir();
  if (platform === 'win32') return join(env['APPDATA'] ?? join(home, 'AppData', 'Roaming'), 'nightdraw', 'boards.json');
  if (platform === 'darwin') return join(home, 'Library', 'Application Support', 'nightdraw', 'boards.json');
  return join(env['XDG_CONFIG_HOME'] ?? join(home, '.config'), 'nightdraw', 'boards.json');
}

export function readKnownBoards(file: string): KnownBoard[] {
  try {
    const value = JSON.parse(readFileSync(file, 'utf8')) as unknown;
    return Array.isArray(value) ? value.filter(isKnown) : [];
  } catch {
    return [];
  }
}

function isKnown(value: unknown): value is KnownBoard {
  const { id, path, seen_ms } = (value ?? {}) as Record<string, unknown>;
  return typeof id === 'number' && typeof path === 'string' && typeof seen_ms === 'number';
}

/** Notes where a board is now. A board that was never given a number (0) is none to remember. */
export function rememberBoard(file: string, board: KnownBoard): void {
  if (board.id === 0) return;
  const others = readKnownBoards(file).filter(({ id }) => id !== board.id);
  try {
    mkdirSync(dirname(file), { recursive: true });
    const draft = `${file}.${process.pid}`;
    writeFileSync(draft, `${JSON.stringify([...others, board], null, 1)}\n`);
    renameSync(draft, file);
  } catch {
    // A home that cannot be written is no reason to stop.
  }
}
