// Reports for the page: each made in a thread of its own, so that neither recording nor
// pictures wait for it.

import type { Told } from '../contract/settings.ts';
import { newThread } from '../server/new-thread.ts';
import type { MadeFolder, MadeReport, ReportMaker } from '../server/reports.ts';
import type { ThreadOrder, ThreadReply } from './report-thread.ts';

/** @param folders where the workshop's logo is looked for */
export function reportsInThreads(workshop: Told, folders: readonly string[]): ReportMaker {
  return {
    report: async ({ format, paper, ...night }, signal) => {
      const reply = await inThread({ night: { ...night, workshop, folders, singles: true }, format, paper }, signal);
      if (!('bytes' in reply)) throw new Error('no report came of it');
      return { name: reply.name, bytes: Buffer.from(reply.bytes) };
    },
    folder: async ({ paper, ...night }, signal) => {
      // The readings in it are those of the capture, to the last digit.
      const order = { night: { ...night, workshop, folders, singles: false }, format: null, paper };
      const reply = await inThread(order, signal);
      if (!('files' in reply)) throw new Error('no folder came of it');
      return reply;
    },
  };
}

function inThread(order: ThreadOrder, signal: AbortSignal): Promise<MadeReport | MadeFolder> {
  return new Promise((resolve, reject) => {
    const thread = newThread(import.meta.url, 'report-thread.js', order);
    const stop = () => void thread.terminate();
    signal.addEventListener('abort', stop);
    thread.once('message', (reply: ThreadReply) =>
      'trouble' in reply ? reject(new Error(reply.trouble)) : resolve(reply),
    );
    thread.once('error', reject);
    thread.once('exit', () => {
      signal.removeEventListener('abort', stop);
      // After an answer this says nothing more.
      reject(
        new Error(
          signal.aborted
            ? 'the server is stopping'
            : 'the report could not be made: its thread ended (a very large file may need more memory than there is)',
        ),
      );
    });
  });
}
