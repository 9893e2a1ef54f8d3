// Builds the page into .build/web, from where the server sends it.
import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { defineConfig } from 'vite';
import type { Plugin } from 'vite';

const here = (path: string) => new URL(path, import.meta.url).pathname;
const PUBLIC = here('public/');
const WORKER = 'worker.js';

/** Tells the service worker which files the page has, once all of them are known. */
const pageFiles: Plugin = {
  name: 'page-files',
  generateBundle: {
    order: 'post',
    handler(_options, bundle) {
      const worker = bundle[WORKER];
      if (worker?.type !== 'chunk') throw new Error(`the page is built without ${WORKER}`);
      const sum = createHash('sha256');
      const built = Object.values(bundle).filter(({ fileName }) => fileName !== WORKER && !fileName.endsWith('.map'));
      for (const one of built) sum.update(one.type === 'chunk' ? one.code : one.source);
      const still = readdirSync(PUBLIC);
      for (const name of still) sum.update(readFileSync(PUBLIC + name));
      const files = [...built.map(({ fileName }) => fileName), ...still].sort();
      // Without quotes of any kind: the text stands in a literal of the worker.
      const told = encodeURIComponent(JSON.stringify({ sum: sum.digest('hex').slice(0, 16), files }));
      if (!worker.code.includes('__PAGE_FILES__')) throw new Error(`${WORKER} has no place for the page's files`);
      worker.code = worker.code.replace('__PAGE_FILES__', told.replace(/'/g, '%27'));
    },
  },
};

export default defineConfig({
  root: here('.'),
  base: './',
  publicDir: PUBLIC,
  plugins: [pageFiles],
  build: {
    outDir: here('../.build/web'),
    emptyOutDir: true,
    target: 'es2022',
    // Inlined files would be data addresses, which the content policy refuses.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    // Pages apart: who watches a recording on a tablet loads nothing of the night's view.
    rollupOptions: {
      input: ['index.html', 'live.html', 'bay.html', 'prove.html', 'fleet.html', 'worker.ts'].map(here),
      output: {
        // A service worker keeps its address from version to version.
        entryFileNames: ({ name }) => (name === 'worker' ? WORKER : 'assets/[name]-[hash].js'),
      },
    },
  },
});
