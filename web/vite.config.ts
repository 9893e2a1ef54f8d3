// Builds the page into .build/web, from where the server sends it.
import { defineConfig } from 'vite';

export default defineConfig({
  root: new URL('.', import.meta.url).pathname,
  base: './',
  build: {
    outDir: new URL('../.build/web', import.meta.url).pathname,
    emptyOutDir: true,
    target: 'es2022',
    // Inlined files would be data addresses, which the content policy refuses.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    // Pages apart: who watches a recording on a tablet loads nothing of the night's view.
    rollupOptions: {
      input: ['index.html', 'live.html', 'bay.html', 'fleet.html'].map(
        (page) => new URL(page, import.meta.url).pathname,
      ),
    },
  },
});
