// The job folder: capture, report (PDF and HTML) and readings (CSV) side by side under names
// that sort, for the command line and for the page.

import { closeSync, copyFileSync, lstatSync, mkdirSync, openSync, renameSync, rmSync, writeSync } from 'node:fs';
import { basename, extname, join } from 'node:path';
import { csvLines } from '../capture/exchange/export-csv.ts';
import type { Paper } from '../report/report.ts';
import type { NightReport } from './report-file.ts';

/** Readings are written in pieces of this many letters: those of a raw night do not fit into one text. */
const PIECE = 1 << 20;

/**
 * @param folder made where it is not there; files of the same names in it are replaced
 * @returns paths of what was written
 * @throws Error in one sentence
 */
export async function writeJobFolder(
  folder: string,
  path: string,
  { opened, stem: name, make }: NightReport,
  paper: Paper,
): Promise<string[]> {
  if (opened.info?.state === 'recording')
    throw new Error(`${path} is still being recorded; stop the recording, then make its job folder`);
  const stem = join(folder, name);
  guarded(folder, () => mkdirSync(folder, { recursive: true }));
  const written = [
    `${stem}${extname(path)}`,
    `${stem}-report.pdf`,
    `${stem}-report.html`,
    `${stem}-readings.csv`,
  ] as const;
  put(written[0], (draft) => copyFileSync(path, draft));
  putWhole(written[1], await make('pdf', paper));
  putWhole(written[2], await make('html', paper));
  put(written[3], (draft) => writeLines(draft, csvLines(opened.trace, opened.voltage, opened.info?.marks ?? [])));
  return [...written];
}

/**
 * The job folder's place beside the capture: a folder of that name, and nothing that leads elsewhere.
 * @throws Error in one sentence where something else has the name
 */
export function besideCapture(dir: string, stem: string): string {
  const folder = join(dir, `${stem}-job`);
  const there = lstatSync(folder, { throwIfNoEntry: false });
  if (there !== undefined && !there.isDirectory())
    throw new Error(`${basename(folder)} is there already and is no folder; move it away first`);
  return folder;
}

/** Written beside its place and moved there whole: a reader never meets half a report. */
export function putWhole(out: string, bytes: Buffer | string): void {
  put(out, (draft) => writeLines(draft, [bytes]));
}

function put(out: string, work: (draft: string) => void): void {
  const draft = `${out}.draft-${process.pid}`;
  guarded(out, () => {
    try {
      // What lies there is of a process that was killed, or leads elsewhere.
      rmSync(draft, { force: true });
      work(draft);
      renameSync(draft, out);
    } finally {
      rmSync(draft, { force: true });
    }
  });
}

function writeLines(path: string, lines: Iterable<Buffer | string>): void {
  const file = openSync(path, 'wx');
  try {
    let piece = '';
    for (const line of lines) {
      if (typeof line !== 'string') writeAll(file, line);
      else piece += line;
      if (piece.length < PIECE) continue;
      writeAll(file, Buffer.from(piece));
      piece = '';
    }
    writeAll(file, Buffer.from(piece));
  } finally {
    closeSync(file);
  }
}

function writeAll(file: number, bytes: Buffer): void {
  for (let at = 0; at < bytes.length;) at += writeSync(file, bytes, at);
}

function guarded(out: string, work: () => void): void {
  try {
    work();
  } catch (error) {
    throw new Error(
      `${out} cannot be written (${(error as Error).message}); check that its folder exists and may be written to`,
      { cause: error },
    );
  }
}
