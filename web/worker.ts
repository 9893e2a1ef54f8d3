// The service worker: keeps the page's own files, so that it opens and can say that nightdraw is
// not running. It keeps nothing that was asked for: no capture, no answer, no report.

/** Filled in when the page is built (vite.config.ts): all files of the page, and their common sum. */
const BUILT = '__PAGE_FILES__';

/** What of a service worker's own world is used here; the page's types know none of it. */
interface WorkerScope {
  readonly clients: { claim(): Promise<void> };
  skipWaiting(): Promise<void>;
  addEventListener(name: 'install' | 'activate', work: (event: Extendable) => void): void;
  addEventListener(name: 'fetch', work: (event: Fetching) => void): void;
}
interface Extendable extends Event {
  waitUntil(work: Promise<unknown>): void;
}
interface Fetching extends Event {
  readonly request: Request;
  respondWith(answer: Promise<Response>): void;
}

const scope = self as unknown as WorkerScope;
const { sum, files } = JSON.parse(decodeURIComponent(BUILT)) as { sum: string; files: string[] };
const PREFIX = 'nightdraw page ';
const CACHE = PREFIX + sum;
/** Paths as they are asked for, by this address; the folder itself is its index. */
const paths = new Set(['./', ...files].map((file) => new URL(file, location.href).pathname));

async function keepFiles(): Promise<void> {
  const cache = await caches.open(CACHE);
  await cache.addAll([...paths].map((path) => new Request(path, { cache: 'reload' })));
  await scope.skipWaiting();
}

async function dropOld(): Promise<void> {
  const old = (await caches.keys()).filter((name) => name.startsWith(PREFIX) && name !== CACHE);
  await Promise.all(old.map((name) => caches.delete(name)));
  await scope.clients.claim();
}

/** From the server while it answers, so that a new version is there at once; else what is kept. */
async function pageFile(request: Request, path: string): Promise<Response> {
  try {
    return await fetch(request);
  } catch (error) {
    const kept = await (await caches.open(CACHE)).match(path);
    if (kept === undefined) throw error;
    return kept;
  }
}

scope.addEventListener('install', (event) => event.waitUntil(keepFiles()));
scope.addEventListener('activate', (event) => event.waitUntil(dropOld()));
scope.addEventListener('fetch', (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method === 'GET' && origin === location.origin && paths.has(pathname))
    event.respondWith(pageFile(request, pathname));
});
