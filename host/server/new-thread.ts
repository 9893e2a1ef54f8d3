// A worker thread from an entry of its own, as built and from the sources.

import { Worker } from 'node:worker_threads';

/**
 * @param own `import.meta.url` of the caller
 * @param source the entry beside the caller; `built` its name in the bundle
 */
export function newThread(own: string, source: string, built: string, workerData: unknown): Worker {
  // As built, the entry lies beside the caller; run from the sources it needs their loader.
  if (own.endsWith('.ts')) {
    const entry = JSON.stringify(new URL(source, own).href);
    return new Worker(`import('tsx/esm/api').then(({ register }) => { register(); return import(${entry}); })`, { eval: true, execArgv: [], workerData });
  }
  return new Worker(new URL(built, own), { workerData });
}
