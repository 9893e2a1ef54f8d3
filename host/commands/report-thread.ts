// Entry of a worker thread: makes one report or job folder and ends, and its memory with it.

import { basename, dirname } from 'node:path';
import { parentPort, workerData } from 'node:worker_threads';
import type { MadeFolder, MadeReport } from '../server/reports.ts';
import type { Format, Paper } from '../report/report.ts';
import { besideCapture, writeJobFolder } from './job-folder.ts';
import { readNight } from './report-file.ts';
import type { NightOrder } from './report-file.ts';

export interface ThreadOrder {
  night: NightOrder;
  /** Null: the job folder, beside the capture. */
  format: Format | null;
  paper: Paper;
}

export type ThreadReply = MadeReport | MadeFolder | { trouble: string };

const port = parentPort;
if (port === null) throw new Error('this is the entry of a worker thread');
const { night, format, paper } = workerData as ThreadOrder;

void readNight(night)
  .then(async (made): Promise<ThreadReply> => {
    if (format !== null) return { name: `${made.stem}-report.${format}`, bytes: await made.make(format, paper) };
    const folder = besideCapture(dirname(night.path), made.stem);
    const files = await writeJobFolder(folder, night.path, made, paper);
    return { folder: basename(folder), files: files.map((file) => basename(file)) };
  })
  .catch((error: unknown): ThreadReply => ({ trouble: error instanceof Error ? error.message : String(error) }))
  .then((reply) => port.postMessage(reply));
