// The command parser under libFuzzer with the address and undefined-behaviour sanitizers:
// some seconds here, half an hour in soak.
import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';

const root = new URL('../../..', import.meta.url).pathname;
const scratch = mkdtempSync(join(tmpdir(), 'nightdraw-fuzz-'));
afterAll(() => rmSync(scratch, { recursive: true }));

const SECONDS = process.env['NIGHTDRAW_SOAK'] === '1' ? 1800 : 6;

test(`the command parser bears ${SECONDS} s of libFuzzer`, () => {
  const make = spawnSync('make', ['-s', '-C', join(root, 'firmware'), 'fuzz', `BUILD=${scratch}`], { encoding: 'utf8' });
  expect(make.status, make.stdout + make.stderr).toBe(0);
  const corpus = join(scratch, 'corpus');
  mkdirSync(corpus);
  // Begins with every command of the shared vectors; the first byte is the harness's own.
  const vectors = readFileSync(new URL('line-vectors.txt', import.meta.url), 'utf8').split('\n').filter((line) => /^[a-z] /.test(line));
  expect(vectors.length).toBeGreaterThan(10);
  vectors.forEach((line, i) => writeFileSync(join(corpus, `vector-${i}`), `\0${line.slice(0, -9)}`));
  vectors.forEach((line, i) => writeFileSync(join(corpus, `whole-${i}`), `\x01${line}\n`));
  const run = spawnSync(join(scratch, 'fuzz/command_fuzz'), [`-max_total_time=${SECONDS}`, '-max_len=200', '-seed=7', '-print_final_stats=1', corpus], { encoding: 'utf8', cwd: scratch });
  const output = run.stdout + run.stderr;
  expect(run.status, output.slice(-4000)).toBe(0);
  const runs = Number(/number_of_executed_units: (\d+)/.exec(output)?.[1]);
  console.log(`fuzz: ${runs} inputs in ${SECONDS} s`);
  expect(runs).toBeGreaterThan(10_000);
}, SECONDS * 1000 + 120_000);
