// A worker thread from an entry of its own.

import { Worker } from 'node:worker_threads';

/**
 * @param own `import.meta.url` of the caller: beside it in the bundle lies the entry. Run from
 *   the sources, as tests do after a build, the built entry is taken too
 * @param built the entry's name in the bundle
 */
export function newThread(own: string, built: string, workerData: unknown): Worker {
  const beside = own.endsWith('.ts') ? new URL('../../.build/host/main.js', import.meta.url) : own;
  return new Worker(new URL(built, beside), { workerData });
}
