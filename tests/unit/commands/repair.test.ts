// Two different nights, before and after a repair, both ways round: what `bay` and `report`
// say of them against the nights' own samples.
import { quantity } from '../analysis/meaning/read-back.ts';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Findings } from '../../../host/contract/findings.ts';
import { openTrace } from '../../../host/night/open.ts';
import { nightdraw } from '../../in-process.ts';

type Name = 'steady-over' | 'wakes-often';

/** What a night holds, of its own samples and of `analyse`, which sees it alone. */
interface Night {
  path: string;
  asleep_min: number;
  asleep_h: number;
  level_mA: number;
  /** From falling asleep to the end, wake-ups and all. */
  mean_mA: number;
  wakeups: number;
  total_mAh: number;
}

let folder: string;
const nights = {} as Record<Name, Night>;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-repair-'));
  for (const name of ['steady-over', 'wakes-often'] as const) {
    const path = new URL(`../../../captures/${name}.nightdraw`, import.meta.url).pathname;
    const findings = JSON.parse((await nightdraw('analyse', path, '--json')).stdout) as Findings;
    const after_s = findings.asleep!.after_s;
    const { trace } = await openTrace(path);
    let charge_mAs = 0,
      length_s = 0,
      total_mAs = 0,
      t_s = 0;
    trace.mean_mA.forEach((mean, i) => {
      const dur_s = trace.dur_s![i]!;
      total_mAs += mean * dur_s;
      if (t_s >= after_s) [charge_mAs, length_s] = [charge_mAs + mean * dur_s, length_s + dur_s];
      t_s += dur_s;
    });
    nights[name] = {
      path,
      asleep_min: after_s / 60,
      asleep_h: length_s / 3600,
      level_mA: findings.asleep!.level_mA,
      mean_mA: charge_mAs / length_s,
      wakeups: findings.wakeups.length,
      total_mAh: total_mAs / 3600,
    };
  }
});
afterAll(() => rmSync(folder, { recursive: true }));

/** The sentence on one line, and the rows of the table by their names. */
async function compared(
  before: Name,
  after: Name,
  ...words: string[]
): Promise<{ sentence: string; row: (what: string) => string[] }> {
  const { status, stdout, stderr } = await nightdraw(
    'bay',
    '--before',
    nights[before].path,
    '--after',
    nights[after].path,
    ...words,
  );
  expect([status, stderr]).toEqual([0, '']);
  const [sentence, table] = stdout.split('\n\n', 2) as [string, string];
  return {
    sentence: sentence.replace(/\n/g, ' '),
    row: (what) => new RegExp(`^ +${what} {2,}(\\S.*?) {2,}(\\S.*?)$`, 'm').exec(table)!.slice(1),
  };
}

const BOTH_WAYS: [Name, Name][] = [
  ['steady-over', 'wakes-often'],
  ['wakes-often', 'steady-over'],
];
const numbersOf = (before: Name, after: Name, allowed: number) =>
  `${nights[before].mean_mA.toFixed(0)} mA before, ${nights[after].mean_mA.toFixed(0)} mA after, allowed ${allowed} mA`;

test('the two nights differ in what is compared', () => {
  const { 'steady-over': steady, 'wakes-often': wakes } = nights;
  expect([steady.wakeups, wakes.wakeups > 10]).toEqual([0, true]);
  // captures/README.md: asleep, but well over the allowance; and something wakes it.
  expect(steady.level_mA).toBeGreaterThan(100);
  expect(wakes.level_mA).toBeLessThan(50);
  expect(wakes.mean_mA).toBeGreaterThan(50);
});

test.each(BOTH_WAYS)(
  '%s before %s: neither is within 50 mA, so nothing is proven; every number on its own side',
  async (before, after) => {
    const { sentence, row } = await compared(before, after);
    expect(sentence).toBe(`Not proven: the car still draws too much (${numbersOf(before, after, 50)}).`);
    // Each figure within half of its last digit.
    const expectSides = (what: string, pick: (night: Night) => number) =>
      row(what).forEach((text, side) => {
        const { value, half } = / /.test(text) ? quantity(text) : { value: Number(text), half: 0.0501 };
        expect(Math.abs(value - pick(nights[[before, after][side]!])), `${what}: ${text}`).toBeLessThanOrEqual(half);
      });
    expectSides('asleep after', (night) => night.asleep_min * 60);
    expectSides('average asleep', (night) => night.mean_mA);
    expectSides('asleep level', (night) => night.level_mA);
    expectSides('wake-ups in 24 h', (night) => (24 * night.wakeups) / night.asleep_h);
    expectSides('charge of the recording', (night) => night.total_mAh);
  },
);

test('with 100 mA allowed the one way is proven, and the other is not', async () => {
  const minutes = Math.round(nights['wakes-often'].asleep_h * 60);
  const asleep = `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
  expect((await compared('steady-over', 'wakes-often', '--allow', '100')).sentence).toBe(
    `Proven: within the allowance for ${asleep} (${numbersOf('steady-over', 'wakes-often', 100)}).`,
  );
  expect((await compared('wakes-often', 'steady-over', '--allow', '100')).sentence).toBe(
    `Not proven: the car still draws too much (${numbersOf('wakes-often', 'steady-over', 100)}).`,
  );
});

test.each(BOTH_WAYS)('the report says the same as bay: %s before %s', async (before, after) => {
  const out = join(folder, `${before}.html`);
  expect(await nightdraw('report', nights[after].path, '--before', nights[before].path, '--out', out)).toMatchObject({
    status: 0,
    stderr: '',
  });
  expect(readFileSync(out, 'utf8').replaceAll('\u00a0', ' ')).toContain((await compared(before, after)).sentence);
});
