// Test runner settings. The extra reporter prints one plain closing line with the counts.
import { defineConfig } from 'vitest/config';

const soak = process.env['NIGHTDRAW_SOAK'] === '1';

export default defineConfig({
  root: new URL('..', import.meta.url).pathname,
  test: {
    include: ['tests/{unit,reference,board,browser}/**/*.test.ts'],
    testTimeout: soak ? 3_600_000 : 60_000,
    hookTimeout: 120_000,
    pool: 'forks',
    maxWorkers: 2,
    // Many tests run real processes in real time: on a computer that is busy with something else one may come too late.
    retry: process.env['CI'] === undefined ? 0 : 2,
    reporters: ['default', './tests/counts-reporter.ts'],
  },
});
