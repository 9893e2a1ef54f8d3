// Reports for the page: each made in a thread of its own, so that neither recording nor
// pictures wait for it.

import type { Told } from '../contract/settings.ts';
import { newThread } from '../server/new-thread.ts';
import type { MakeReport } from '../server/reports.ts';
import type { ThreadOrder, ThreadReply } from './report-thread.ts';

/** @param folders where the workshop's logo is looked for */
export function reportsInThreads(workshop: Told, folders: readonly string[]): MakeReport {
  return ({ format, paper, ...night }, signal) =>
    new Promise((resolve, reject) => {
      const order: ThreadOrder = { night: { ...night, workshop, folders, singles: true }, format, paper };
      const thread = newThread(import.meta.url, 'report-thread.js', order);
      const stop = () => void thread.terminate();
      signal.addEventListener('abort', stop);
      thread.once('message', (reply: ThreadReply) =>
        'trouble' in reply
          ? reject(new Error(reply.trouble))
          : resolve({ name: reply.name, bytes: Buffer.from(reply.bytes) }),
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
