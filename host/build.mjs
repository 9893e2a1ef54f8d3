// Bundles the host into .build/host: one file starts faster than a hundred.
// Packages stay outside the bundle, since some of them are native; but what every command loads
// a small part of is inside: it is many files to look up.
import { chmodSync, copyFileSync, cpSync, mkdirSync, readFileSync, rmSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

const root = join(dirname(fileURLToPath(import.meta.url)), '..');
const out = join(root, '.build/host');
const { version, dependencies, optionalDependencies } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'));

/** Bundled as far as they are used. */
const IN_PART = new Set(['zod', 'd3', 'd3-array', 'pdfkit', 'svg-to-pdfkit']);

/** Two thirds of what the PDF writer would load: the dictionary for web fonts, of which the report has none. */
const noWebFonts = {
  name: 'no-web-fonts',
  setup(build) {
    build.onResolve({ filter: /^brotli\// }, ({ path }) => ({ path, namespace: 'no-web-fonts' }));
    build.onLoad({ filter: /.*/, namespace: 'no-web-fonts' }, () => ({
      contents: "export default () => { throw new Error('fonts for the web are not read here'); };",
    }));
  },
};

const wholeZodOutside = {
  name: 'whole-zod-outside',
  setup(build) {
    build.onResolve({ filter: /^zod$/ }, ({ path }) => ({ path, external: true }));
  },
};

rmSync(out, { recursive: true, force: true });
await build({
  absWorkingDir: root,
  entryPoints: {
    main: 'host/main.ts',
    'reading-thread': 'host/server/reading/thread.ts',
    'report-thread': 'host/commands/report-thread.ts',
  },
  outdir: out,
  bundle: true,
  splitting: true,
  platform: 'node',
  target: 'node20',
  format: 'esm',
  external: Object.keys({ ...dependencies, ...optionalDependencies }).filter((name) => !IN_PART.has(name)),
  plugins: [wholeZodOutside, noWebFonts],
  sourcemap: true,
  define: { NIGHTDRAW_VERSION: JSON.stringify(version) },
  banner: { js: '#!/usr/bin/env node' },
});
chmodSync(join(out, 'main.js'), 0o755);

mkdirSync(join(root, '.build/firmware'), { recursive: true });
copyFileSync(
  join(root, 'firmware/images/nightdraw-atmega328p.hex'),
  join(root, '.build/firmware/nightdraw-atmega328p.hex'),
);
cpSync(join(root, 'host/fleet/queries'), join(root, '.build/fleet/queries'), { recursive: true });
copyFileSync(join(root, 'host/fleet/SPEC.md'), join(root, '.build/fleet/SPEC.md'));
