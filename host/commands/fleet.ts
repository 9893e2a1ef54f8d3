// `export --parquet`: the findings of one capture, or of a folder of them, into a tree for
// questions about many nights.

import { cpSync, readdirSync, statSync } from 'node:fs';
import { basename, dirname, extname, join } from 'node:path';
import { openCapture } from '../capture/read/reader.ts';
import { addNight } from '../fleet/tree.ts';
import { judgedNight } from '../night/judge.ts';
import { FLEET_DIR } from './shipped.ts';
import { workshopSettings } from './settings-file.ts';
import { answer, tell } from './tell.ts';

const CAPTURES = /\.(nightdraw|csv)$/i;

/** @returns the exit code: 1 where a capture of a folder could not be read; the others are in the tree then */
export async function exportFleet(path: string, root: string, personal: boolean): Promise<number> {
  const isFolder = statSync(path, { throwIfNoEntry: false })?.isDirectory() === true;
  const files = isFolder
    ? readdirSync(path)
        .filter((name) => CAPTURES.test(name) && !name.startsWith('.'))
        .sort()
        .map((name) => join(path, name))
    : [path];
  if (files.length === 0)
    throw new Error(`${path} holds no capture (.nightdraw) and no CSV; name the folder of your captures`);
  let bad = 0;
  for (const [i, file] of files.entries()) {
    try {
      await addFile(file, root, personal);
    } catch (error) {
      if (!isFolder) throw error;
      bad++;
      tell(`${(error as Error).message.includes(file) ? '' : `${file}: `}${(error as Error).message}`);
    }
    if (process.stderr.isTTY) process.stderr.write(`\r${i + 1} of ${files.length} `);
  }
  if (process.stderr.isTTY) process.stderr.write('\r');
  // What each column means, and the ready queries, for whoever is given the tree alone.
  if (bad < files.length) cpSync(FLEET_DIR, root, { recursive: true });
  answer(`${root}: ${files.length - bad} nights written${bad === 0 ? '' : `, ${bad} could not be`}`);
  return bad === 0 ? 0 : 1;
}

async function addFile(path: string, root: string, withPersonal: boolean): Promise<void> {
  const workshop = workshopSettings(undefined, [dirname(path), '.']);
  const {
    opened: { info },
    night: findings,
  } = await judgedNight(path, { workshop, asked: {} });
  const { plate, vehicle } = withPersonal && info !== null ? personalOf(path) : {};
  addNight(root, {
    capture: basename(path, extname(path)),
    workshop: workshop.workshop_name ?? null,
    car: plate ?? null,
    vehicle: vehicle ?? null,
    findings,
  });
}

function personalOf(path: string): { plate?: string; vehicle?: string } {
  const capture = openCapture(path);
  try {
    return capture.personal();
  } finally {
    capture.close();
  }
}
