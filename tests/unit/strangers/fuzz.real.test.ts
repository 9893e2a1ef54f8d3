// Fuzzing guided by what is reached, in the long form alone: half an hour for each target. What
// it found is added to the corpus, which fuzz.test.ts runs.
import { spawn } from 'node:child_process';
import { expect, test } from 'vitest';
import { seedOf } from '../../seeds.ts';
import { TARGETS } from './fuzz-targets.ts';

const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
const SECONDS = 1800;

test.runIf(SOAK).each(Object.keys(TARGETS))(
  '%s',
  async (name) => {
    const child = spawn(
      process.execPath,
      [
        '--import',
        'tsx',
        new URL('fuzz-process.ts', import.meta.url).pathname,
        name,
        String(SECONDS),
        String(seedOf(20310609)),
        'keep',
      ],
      { stdio: ['ignore', 'pipe', 'inherit'] },
    );
    let out = '';
    child.stdout.setEncoding('utf8').on('data', (part: string) => (out += part));
    // A hang ends with the time for it: nothing was said then.
    const code = await new Promise((resolve) => {
      const watch = setTimeout(() => child.kill('SIGKILL'), SECONDS * 1000 + 120_000);
      child.once('exit', (status) => {
        clearTimeout(watch);
        resolve(status);
      });
    });
    expect(code, out).toBe(0);
    const { runs, reached, kept, known, found } = JSON.parse(out) as {
      runs: number;
      reached: number;
      kept: number;
      known: number;
      found: { what: string; bytes: string }[];
    };
    console.log(
      `${name}: ${runs} runs, ${reached} stretches of code reached, ${kept} more beside ${known} of the corpus`,
    );
    expect(found).toEqual([]);
    expect(runs).toBeGreaterThan(100);
    expect(reached).toBeGreaterThan(50);
  },
  SECONDS * 1000 + 180_000,
);
