// Entry of a worker thread: makes one report and ends, and its memory with it.

import { parentPort, workerData } from 'node:worker_threads';
import type { MadeReport } from '../server/reports.ts';
import type { Format, Paper } from '../report/report.ts';
import { readNight } from './report-file.ts';
import type { NightOrder } from './report-file.ts';

export interface ThreadOrder {
  night: NightOrder;
  format: Format;
  paper: Paper;
}

export type ThreadReply = MadeReport | { trouble: string };

const port = parentPort;
if (port === null) throw new Error('this is the entry of a worker thread');
const { night, format, paper } = workerData as ThreadOrder;

void readNight(night)
  .then(async ({ stem, make }): Promise<ThreadReply> => ({
    name: `${stem}-report.${format}`,
    bytes: await make(format, paper),
  }))
  .catch((error: unknown): ThreadReply => ({ trouble: error instanceof Error ? error.message : String(error) }))
  .then((reply) => port.postMessage(reply));
