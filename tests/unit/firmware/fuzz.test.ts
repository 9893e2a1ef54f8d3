// The command parser under libFuzzer with the address and undefined-behaviour sanitizers:
// so many inputs from a fixed seed here, half an hour from a new one in soak.
import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { BUILT } from '../../build.ts';
import { seedOf } from '../../seeds.ts';

const scratch = mkdtempSync(join(tmpdir(), 'nightdraw-fuzz-'));
afterAll(() => rmSync(scratch, { recursive: true }));

const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
const SEED = seedOf(7);
const INPUTS = 20_000;

test(`the command parser bears ${SOAK ? 'half an hour' : `${INPUTS} inputs`} of libFuzzer`, () => {
  const corpus = join(scratch, 'corpus');
  mkdirSync(corpus);
  // Begins with every command of the shared vectors; the first byte is the harness's own.
  const vectors = readFileSync(new URL('line-vectors.txt', import.meta.url), 'utf8')
    .split('\n')
    .filter((line) => /^[a-z] /.test(line));
  expect(vectors.length).toBeGreaterThan(10);
  vectors.forEach((line, i) => writeFileSync(join(corpus, `vector-${i}`), `\0${line.slice(0, -9)}`));
  vectors.forEach((line, i) => writeFileSync(join(corpus, `whole-${i}`), `\x01${line}\n`));
  const run = spawnSync(
    join(BUILT, 'firmware/fuzz/command_fuzz'),
    [
      SOAK ? '-max_total_time=1800' : `-runs=${INPUTS}`,
      '-max_len=200',
      `-seed=${SEED}`,
      '-print_final_stats=1',
      corpus,
    ],
    { encoding: 'utf8', cwd: scratch },
  );
  const output = run.stdout + run.stderr;
  expect(run.status, `seed ${SEED}: ${output.slice(-4000)}`).toBe(0);
  const runs = Number(/number_of_executed_units: (\d+)/.exec(output)?.[1]);
  expect(runs).toBeGreaterThanOrEqual(INPUTS);
});
