// The captures folder: which files lie in it, and which file a name means. A name
// never leads out of the folder, neither by its spelling nor by a symbolic link.

import { constants, statSync } from 'node:fs';
import type { Stats } from 'node:fs';
import { access, lstat, readdir, realpath, stat } from 'node:fs/promises';
import { join, sep } from 'node:path';
import { setImmediate as others } from 'node:timers/promises';
import { captureName } from '../contract/api.ts';
import { RequestProblem } from './problem.ts';

export interface CaptureFile {
  name: string;
  path: string;
  bytes: number;
  written_ms: number;
  /** Changes whenever the content may have changed: a recording grows in its write-ahead log first. */
  version: string;
  /** It is being recorded, or was left unfinished: its write-ahead log holds readings. */
  growing: boolean;
}

/** So many files are looked at before others have their turn: a few milliseconds. */
const AT_ONCE = 500;

/** Captures and CSV files carry these endings; anything else in the folder is not ours to open. */
const ENDINGS = /\.(nightdraw|csv)$/i;

export async function listFolder(dir: string): Promise<CaptureFile[]> {
  const files: CaptureFile[] = [];
  const entries = await readdir(dir, { withFileTypes: true }).catch((error: NodeJS.ErrnoException) => {
    if (error.code !== 'ENOENT' && error.code !== 'ENOTDIR') throw error;
    throw new RequestProblem(
      503,
      'no-folder',
      `The folder that is served is gone: ${dir}. Put it back, or serve another.`,
    );
  });
  const names = new Set(entries.map(({ name }) => name));
  let looked = 0;
  for (const entry of entries) {
    const { name } = entry;
    if (!ENDINGS.test(name) || entry.isDirectory() || !captureName.safeParse(name).success) continue;
    // A plain file leads nowhere else. Ten thousand are looked at in a tenth of the time that asking for each takes.
    const file = entry.isFile() ? statted(dir, name, names.has(`${name}-wal`)) : await describe(dir, name);
    if (file !== null) files.push(file);
    if (++looked % AT_ONCE === 0) await others();
  }
  return files.sort((a, b) => (a.name < b.name ? -1 : 1));
}

/**
 * @throws RequestProblem 400 for what is no plain name, 404 for what is no
 * readable capture inside the folder
 */
export async function findFile(dir: string, name: string): Promise<CaptureFile> {
  if (!captureName.safeParse(name).success) {
    throw new RequestProblem(
      400,
      'bad-name',
      `${JSON.stringify(name.slice(0, 80))} is not a plain file name; the list of captures has the names.`,
    );
  }
  const file = ENDINGS.test(name) ? await describe(dir, name) : null;
  if (file === null) {
    throw new RequestProblem(
      404,
      'no-capture',
      `There is no capture ${JSON.stringify(name)} in the folder; it may have been moved or renamed.`,
    );
  }
  return file;
}

/** Null for what is no regular, readable file, or lies outside the folder. */
async function describe(dir: string, name: string): Promise<CaptureFile | null> {
  const path = join(dir, name);
  try {
    // Asked together: this goes before every answer about a capture.
    const [link, found, log] = await Promise.all([
      lstat(path),
      stat(path),
      stat(`${path}-wal`).catch(() => null),
      access(path, constants.R_OK),
    ]);
    if (link.isSymbolicLink() && !(await staysInside(dir, path))) return null;
    if (!found.isFile()) return null;
    return asFile(name, path, found, log);
  } catch {
    return null;
  }
}

/** Null for what is gone meanwhile. */
function statted(dir: string, name: string, hasLog: boolean): CaptureFile | null {
  const path = join(dir, name);
  const found = statSync(path, { throwIfNoEntry: false });
  return found?.isFile() === true
    ? asFile(name, path, found, hasLog ? (statSync(`${path}-wal`, { throwIfNoEntry: false }) ?? null) : null)
    : null;
}

function asFile(name: string, path: string, found: Stats, log: Stats | null): CaptureFile {
  const parts = [found.mtimeMs, found.size, log?.mtimeMs ?? 0, log?.size ?? 0];
  return {
    name,
    path,
    bytes: found.size,
    written_ms: Math.max(found.mtimeMs, log?.mtimeMs ?? 0),
    version: parts.join(' '),
    growing: (log?.size ?? 0) > 0,
  };
}

async function staysInside(dir: string, path: string): Promise<boolean> {
  const [folder, target] = await Promise.all([realpath(dir), realpath(path)]);
  return target.startsWith(folder.endsWith(sep) ? folder : folder + sep);
}
