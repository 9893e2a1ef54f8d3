// The workshop's settings: `nightdraw.json` beside the captures, else in the working
// folder, else none; or the file that --settings names.

import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { readWorkshop } from '../contract/settings.ts';
import type { Told } from '../contract/settings.ts';
import { NOTICE_KEYS, readNotices } from '../notify/settings.ts';
import type { NoticeSettings } from '../notify/settings.ts';
import { LOW_V } from '../recorder/low-battery.ts';

export const SETTINGS_FILE = 'nightdraw.json';
/** A file of settings is small; anything larger is another file. */
const BYTES_MAX = 65_536;

/**
 * How a night is judged.
 * @param named what --settings names, undefined where it is not given
 * @param folders where to look else, first found wins
 * @throws Error in one sentence that names the file
 */
export function workshopSettings(named: string | undefined, folders: readonly string[]): Told {
  return (
    inFile(named, folders, (value) => {
      const judging =
        typeof value !== 'object' || value === null || Array.isArray(value)
          ? value
          : Object.fromEntries(Object.entries(value).filter(([key]) => !isNotice(key)));
      return readWorkshop(judging, NOTICE_KEYS);
    }) ?? {}
  );
}

/** What is told while it records, and to whom; as `workshopSettings`. */
export function noticeSettings(named: string | undefined, folders: readonly string[]): NoticeSettings {
  const read = (value: unknown) => readNotices(value as Record<string, unknown>, LOW_V);
  return inFile(named, folders, read) ?? read({});
}

const isNotice = (key: string) => (NOTICE_KEYS as readonly string[]).includes(key);

/** Null where there is no such file. */
function inFile<T>(named: string | undefined, folders: readonly string[], read: (value: unknown) => T): T | null {
  const path = named ?? folders.map((folder) => join(folder, SETTINGS_FILE)).find((file) => existsSync(file));
  if (path === undefined) return null;
  let text: string;
  try {
    text = readFileSync(path, 'utf8');
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    throw new Error(
      code === 'ENOENT' ? `${path} is not there; see --settings` : `${path} cannot be read (${code ?? 'unknown'})`,
      { cause: error },
    );
  }
  if (text.length > BYTES_MAX)
    throw new Error(`${path} is too large for a file of settings (${text.length} bytes, at most ${BYTES_MAX})`);
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch (error) {
    throw new Error(`${path} is no JSON: ${(error as Error).message.split('\n')[0]!}`, { cause: error });
  }
  try {
    return read(value);
  } catch (error) {
    throw new Error(`${path}: ${(error as Error).message}`, { cause: error });
  }
}
