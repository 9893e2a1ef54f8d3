// The workshop's settings: `nightdraw.json` beside the captures, else in the working
// folder, else none; or the file that --settings names.

import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { readWorkshop } from '../analysis/meaning/settings.ts';
import type { Told } from '../analysis/meaning/settings.ts';

export const SETTINGS_FILE = 'nightdraw.json';
/** A file of settings is small; anything larger is another file. */
const BYTES_MAX = 65_536;

/**
 * @param named what --settings names, undefined where it is not given
 * @param folders where to look else, first found wins
 * @throws Error in one sentence that names the file
 */
export function workshopSettings(named: string | undefined, folders: readonly string[]): Told {
  const path = named ?? folders.map((folder) => join(folder, SETTINGS_FILE)).find((file) => existsSync(file));
  if (path === undefined) return {};
  let text: string;
  try {
    text = readFileSync(path, 'utf8');
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    throw new Error(code === 'ENOENT' ? `${path} is not there; see --settings` : `${path} cannot be read (${code ?? 'unknown'})`, { cause: error });
  }
  if (text.length > BYTES_MAX) throw new Error(`${path} is too large for a file of settings (${text.length} bytes, at most ${BYTES_MAX})`);
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch (error) {
    throw new Error(`${path} is no JSON: ${(error as Error).message.split('\n')[0]!}`, { cause: error });
  }
  try {
    return readWorkshop(value);
  } catch (error) {
    throw new Error(`${path}: ${(error as Error).message}`, { cause: error });
  }
}
