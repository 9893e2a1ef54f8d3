// Test runner settings: which test runs where, and for how long. DEVELOPERS.md has the table.
import { readFileSync } from 'node:fs';
import { defineConfig } from 'vitest/config';

const { version } = JSON.parse(readFileSync(new URL('../package.json', import.meta.url), 'utf8')) as {
  version: string;
};

/** The long forms: every seed, every fault. */
const soak = process.env['NIGHTDRAW_SOAK'] === '1';
const limit_ms = soak ? 3_600_000 : 180_000;

export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  define: { NIGHTDRAW_VERSION: JSON.stringify(version) },
  test: {
    globalSetup: 'tests/build.ts',
    pool: 'forks',
    // Limits only end what hangs: no test is judged by how long it takes.
    testTimeout: limit_ms,
    hookTimeout: limit_ms,
    reporters: ['default', './tests/counts-reporter.ts'],
    projects: [
      // The same on every machine, however busy: `npm test`. Files share a process, so that what
      // they import is loaded once: each leaves clocks, environment and spies as it found them.
      {
        extends: true,
        test: {
          name: 'gate',
          include: ['tests/**/*.test.ts'],
          exclude: ['**/*.real.test.ts'],
          maxWorkers: 2,
          isolate: false,
          setupFiles: 'tests/property-seed.ts',
        },
      },
      // Real time, processes, terminals, mounts and kills, one file at a time: `npm run test:real`.
      { extends: true, test: { name: 'real', include: ['tests/**/*.real.test.ts'], maxWorkers: 1, isolate: false } },
    ],
  },
});
