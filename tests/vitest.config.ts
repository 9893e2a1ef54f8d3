// Test runner settings: which test runs where, and for how long. DEVELOPERS.md has the table.
import { defineConfig } from 'vitest/config';

/** The long forms: every seed, every fault. */
const soak = process.env['NIGHTDRAW_SOAK'] === '1';
const limit_ms = soak ? 3_600_000 : 180_000;

export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    globalSetup: 'tests/build.ts',
    pool: 'forks',
    // Limits only end what hangs: no test is judged by how long it takes.
    testTimeout: limit_ms,
    hookTimeout: limit_ms,
    reporters: ['default', './tests/counts-reporter.ts'],
    projects: [
      // The same on every machine, however busy: `npm test`.
      { extends: true, test: { name: 'gate', include: ['tests/**/*.test.ts'], exclude: ['**/*.real.test.ts'], maxWorkers: 2 } },
      // Real time, processes, terminals, mounts and kills, one file at a time: `npm run test:real`.
      { extends: true, test: { name: 'real', include: ['tests/**/*.real.test.ts'], maxWorkers: 1 } },
    ],
  },
});
