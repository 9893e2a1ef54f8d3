// `analyse` as it is typed: what it prints at 80 columns, as JSON, and what it refuses.

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { inWords } from '../../../host/commands/night-words.ts';
import { nightdraw } from '../../in-process.ts';
import { CAUSES, COMPLAINTS, MISREAD, PLAIN } from '../analysis/meaning/scenarios.ts';
import { meaningOf } from '../analysis/meaning/scene.ts';

let folder: string;

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-analyse-'));
  // Two hours, asleep at 30 mA after ten minutes, once every ten seconds.
  const rows = Array.from({ length: 720 }, (_, i) => `${i * 10},${(i < 60 ? 400 : 30) + Math.sin(i) / 10}`);
  writeFileSync(join(folder, 'night.csv'), `t_s,current_mA\n${rows.join('\n')}\n`);
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const run = (...args: string[]) => nightdraw('analyse', join(folder, 'night.csv'), ...args);

describe('in words', () => {
  const scenarios = [...PLAIN, ...CAUSES, ...MISREAD, ...COMPLAINTS].filter((_, i) => i % 8 === 0);
  test.each(scenarios.map((s) => [s.name, s] as const))('%s: verdict first, 80 columns', (_, scenario) => {
    const night = meaningOf(scenario);
    const lines = inWords(night).split('\n');
    expect(lines.filter((line) => line.length > 80)).toEqual([]);
    expect(lines.filter((line) => line !== line.trimEnd())).toEqual([]);
    const text = lines.join(' ').replace(/\s+/g, ' ');
    expect(text.startsWith(night.verdict.sentence)).toBe(true);
    for (const w of night.warnings) expect(text).toContain(w.sentence);
    expect(text).toContain(`Next: ${night.next}`);
    expect(text).toMatch(/Charge bill, .* total /);
  });
});

describe('at the command line', () => {
  test('words, and a complaint', async () => {
    const { status, stdout, stderr } = await run('--dead-after', '4', '--capacity', '70');
    expect({ status, stderr }).toEqual({ status: 0, stderr: '' });
    expect(stdout).toMatch(/^Asleep after 10 min at 30 mA, within the 50 mA allowance; nothing woke it\.\nNext: /);
    expect(stdout).toMatch(/Charge bill, 2 h\n/);
    expect(stdout).toContain('"dead after 4 days"');
  });

  test('JSON has all of it beside the keys that were there before', async () => {
    const { stdout } = await run('--json', '--allow', 'reserve', '--reserve', '100', '--dead-after', '4');
    const night = JSON.parse(stdout) as Record<string, unknown>;
    expect(night).toMatchObject({
      allowance_mA: 25,
      verdict: { code: 'over' },
      allowance: { basis: 'reserve', mA: 25 },
      complaint: { dead_after_days: 4 },
      battery: { type: 'flooded' },
    });
    for (const key of [
      'trace',
      'asleep',
      'steps',
      'wakeups',
      'families',
      'dips',
      'charge',
      'battery',
      'levels',
      'bill',
      'explanations',
      'warnings',
      'next',
    ])
      expect(night).toHaveProperty(key);
  });

  test("the workshop's file beside the night counts, an option over it, and a broken one is refused", async () => {
    const file = join(folder, 'nightdraw.json');
    writeFileSync(file, '{"allowance_mA": 20}');
    expect((await run()).stdout).toContain('over the 20 mA allowance');
    expect((await run('--allow', '60')).stdout).toContain('within the 60 mA allowance');
    writeFileSync(file, '{"allowance": 20}');
    expect(await run()).toMatchObject({
      status: 1,
      stderr: expect.stringMatching(
        /^nightdraw: .*nightdraw\.json: 'allowance' is no setting; known are [^\n]*\n$/,
      ) as string,
    });
    writeFileSync(file, '{"allowance_mA": ');
    expect(await run()).toMatchObject({
      status: 1,
      stderr: expect.stringMatching(/^nightdraw: .*nightdraw\.json is no JSON: [^\n]*\n$/) as string,
    });
    rmSync(file);
    expect(await run('--settings', 'none.json')).toMatchObject({
      status: 1,
      stderr: 'nightdraw: none.json is not there; see --settings\n',
    });
  });

  test.each([
    ['--capacity', '0'],
    ['--dead-after', '-3'],
    ['--volts-before', '9'],
    ['--allow', '1e9'],
  ])('%s %s: one line, exit 2', async (option, value) => {
    const { status, stdout, stderr } = await run(option, value);
    expect({ status, stdout, lines: stderr.trim().split('\n').length }).toEqual({ status: 2, stdout: '', lines: 1 });
  });

  test('a name that a terminal would obey is shown, not obeyed', async () => {
    const { status, stderr } = await nightdraw('analyse', join(folder, 'a\u001b]0;title\u0007\u009b31m\r\n.csv'));
    expect(status).toBe(1);
    expect(stderr).toMatch(/a\ufffd\]0;title\ufffd\ufffd31m .*csv/);
    expect([...stderr.slice(0, -1)].filter((char) => char < ' ' || (char >= '\u007f' && char <= '\u009f'))).toEqual([]);
  });

  test('help within 80 columns', async () => {
    const { stdout } = await nightdraw('analyse', '--help');
    expect(stdout.split('\n').filter((line) => line.length > 80)).toEqual([]);
    expect(stdout).toContain('--dead-after DAYS');
  });
});
