// Captures that were changed at random (2000 in the long form): every command and the server
// give a right answer or one clear line, in bounded time and memory.
import { spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { seedOf } from '../../seeds.ts';
import { writeBaseCapture } from './base-capture.ts';
import type { Outcome } from './open-all.ts';

const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
/** NIGHTDRAW_MUTANTS: as many, from NIGHTDRAW_SEED on. */
const COUNT = Number(process.env['NIGHTDRAW_MUTANTS'] ?? (SOAK ? 2000 : 20));
const MS_MOST = 10_000;
const MEMORY_MOST_MB = 500;
/** What only a mistake of the program's own says. */
const OURS =
  /TypeError|RangeError|is not a function|Cannot read|undefined|\[object|Invalid (typed )?array|allocation failed|not iterable|NaN|\n.*\n|\u001b/;

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-mutants-'));
  writeBaseCapture(join(folder, 'base.nightdraw'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function outcomes(from: number): Promise<Outcome[]> {
  const child = spawn(
    process.execPath,
    [
      '--import',
      'tsx',
      new URL('open-all.ts', import.meta.url).pathname,
      join(folder, 'base.nightdraw'),
      folder,
      String(from),
      String(COUNT),
    ],
    { stdio: ['ignore', 'pipe', 'inherit'] },
  );
  const ended = new Promise<number | null>((resolve) => child.once('exit', resolve));
  const all: Outcome[] = [];
  // It only ends what hangs; what is too slow is told below.
  let watch = setTimeout(() => undefined, 0);
  for await (const line of createInterface(child.stdout)) {
    all.push(JSON.parse(line) as Outcome);
    clearTimeout(watch);
    watch = setTimeout(() => child.kill('SIGKILL'), 120_000);
  }
  clearTimeout(watch);
  expect(await ended, `after ${JSON.stringify(all.at(-1))}`).toBe(0);
  return all;
}

test(
  `${COUNT} mutants, by every command and the server`,
  async () => {
    const seed = seedOf(20310607);
    const all = await outcomes(seed);
    const idle = all.filter((one) => one.seed < 0),
      of = all.filter((one) => one.seed >= 0);
    expect(idle.filter(({ status, what }) => status !== 0 && what !== 'import')).toEqual([]);
    const wrong = of.filter(({ what, status, said, changed }) => {
      if (changed !== undefined && changed > 0) return true;
      if (what.startsWith('serve')) return ![200, 404, 409, 422].includes(status) || OURS.test(said);
      return ![0, 1].includes(status) || OURS.test(said) || (status === 1 && !/^nightdraw: [^\n]+\n$/.test(said));
    });
    // One of each mutant: what it is refused for is the same everywhere.
    const each = [...new Map(wrong.map((one) => [one.seed, one])).values()];
    expect(each.slice(0, 20), `${each.length} mutants, from seed ${seed}`).toEqual([]);
    const idle_MB = Math.max(...idle.map(({ memory_MB }) => memory_MB));
    const slow = of.filter(({ ms, memory_MB }) => ms > MS_MOST || memory_MB - idle_MB > MEMORY_MOST_MB);
    expect(slow.slice(0, 20), `seed ${seed}, ${idle_MB.toFixed(0)} MB before`).toEqual([]);
    // Some are opened, most are refused, or nothing was tried.
    const opened = new Set(of.filter(({ what, status }) => what === 'analyse' && status === 0).map((one) => one.seed))
      .size;
    console.log(
      `${COUNT} mutants: ${opened} opened, slowest ${Math.max(...of.map(({ ms }) => ms)).toFixed(0)} ms, most memory ${(Math.max(...of.map(({ memory_MB }) => memory_MB)) - idle_MB).toFixed(0)} MB above ${idle_MB.toFixed(0)}`,
    );
    expect(opened).toBeGreaterThan(COUNT * 0.05);
    expect(opened).toBeLessThan(COUNT * 0.95);
  },
  Math.max(600_000, COUNT * 7000),
);
