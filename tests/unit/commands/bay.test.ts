// `nightdraw bay` away from the car: the tree looked over, the voltages of a box, nights
// compared, and wrong use in one line.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { nightdraw } from '../../in-process.ts';

const TREE = new URL('../../../host/bay/examples/demo-tree.csv', import.meta.url).pathname;
const HEAD = 'box,position,rating,type,feeds\n';

let folder: string;
const file = (name: string, text: string) => {
  const path = join(folder, name);
  writeFileSync(path, text);
  return path;
};
const bay = (...args: string[]) => nightdraw('bay', ...args);

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-bay-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** A night as a CSV: 400 mA for ten minutes, then asleep. */
function night(name: string, hours: number, asleep_mA: number): string {
  const rows = Array.from({ length: (hours * 3600) / 10 }, (_, i) => `${i * 10},${i < 60 ? 400 : asleep_mA}`);
  return file(name, `t_s,current_mA\n${rows.join('\n')}\n`);
}

describe('bay away from the car', () => {
  test('looks a tree over', async () => {
    expect((await bay('--tree', TREE)).stdout).toMatch(/28 fuses, 1 relay, 35 parts; no mistake found/);
  });

  // 0.2 mV over 1.97 mOhm (30 A regular, ISO 8820-3 type C, Littelfuse ATOF 287 data sheet) is 101.5 mA.
  test('a box of voltages as currents, and what they do not account for', async () => {
    const { stdout, status } = await bay(
      '--tree',
      TREE,
      '--drops',
      file('box.csv', 'fuse;mV\nD1;0,2\nD9;0,7'),
      '--total',
      '400',
    );
    expect(status).toBe(0);
    expect(stdout).toMatch(/D1 +0.2 mV +102 mA/);
    expect(stdout.replace(/\s+/g, ' ')).toMatch(/Of the 400 mA measured, 298 mA flow somewhere else/);
  });

  test('proven, not proven, too short', async () => {
    const before = night('before.csv', 5, 300);
    expect((await bay('--before', before, '--after', night('good.csv', 5, 20))).stdout).toMatch(/^Proven: /);
    expect((await bay('--before', before, '--after', night('bad.csv', 5, 120))).stdout).toMatch(/^Not proven: /);
    expect((await bay('--before', before, '--after', night('short.csv', 0.5, 20))).stdout).toMatch(/^Too short: /);
  });

  test('says what to leave out for a night', async () => {
    expect((await bay('--tree', TREE, '--night', night('night.csv', 5, 30))).stdout).toMatch(
      /1\. Leave fuse .* out for a night/,
    );
  });

  /** Asleep at 20 mA, woken every ten minutes for half a minute by 200 mA where it is the telematics box. */
  function wakes(name: string, woken: boolean): string {
    const rows = Array.from({ length: 3 * 3600 }, (_, t) => `${t},${t < 600 ? 400 : woken && t % 600 < 30 ? 220 : 20}`);
    return file(name, `t_s,current_mA\n${rows.join('\n')}\n`);
  }

  test('draws that come and go: a circuit left out for a night, and a second board at its fuse', async () => {
    const [with_, without] = [wakes('with.csv', true), wakes('without.csv', false)];
    expect((await bay('--tree', TREE, '--before', with_, '--after', without, '--left-out', 'E7')).stdout).toMatch(
      /^Family 1 is gone, due \d+ times: it points to fuse E7/,
    );
    expect((await bay('--tree', TREE, '--before', with_, '--after', with_, '--left-out', 'E7')).stdout).toMatch(
      /^Family 1 is still there/,
    );
    expect((await bay('--tree', TREE, '--night', with_, '--second', with_, '--at', 'E7')).stdout).toMatch(
      /^Family 1 flows through fuse E7 \(engine bay\)/,
    );
    expect((await bay('--tree', TREE, '--night', with_, '--second', without, '--at', 'E7')).stdout).toMatch(
      /^Family 1 was not seen at fuse E7/,
    );
    const { stderr, status } = await bay('--tree', TREE, '--night', with_, '--second', without, '--at', 'X9');
    expect([status, stderr]).toEqual([2, expect.stringMatching(/--at X9 is no fuse of the tree/)]);
  });

  test.each([
    ['no option', [], 2, /--tree is missing/],
    ['a total that is none', ['--tree', TREE, '--total', 'much'], 2, /--total much is not a number/],
    ['a file that is not there', ['--tree', '/nowhere.csv'], 1, /nowhere\.csv is not there; give the CSV file/],
    ['nothing to go on with', ['--out', '/nowhere.nightdraw'], 2, /begin with --tree/],
    ['no terminal', ['--tree', TREE, '--out', '/nowhere.nightdraw'], 2, /led by keys; run it in a terminal/],
    ['half a comparison', ['--before', 'a.csv'], 2, /--after is missing/],
  ])('%s: one line', async (_, args, code, text) => {
    const { status, stderr } = await bay(...args);
    expect(status).toBe(code);
    expect(stderr).toMatch(text);
    expect(stderr.trim().split('\n')).toHaveLength(1);
  });

  test('a reading that cannot be, and a loop, are told with their line or fuse', async () => {
    expect((await bay('--tree', TREE, '--drops', file('blown.csv', 'fuse,mV\nD2,12600'))).stderr).toMatch(
      /line 2: D2: 12600 mV .* is the fuse blown, or the meter not on mV\?/,
    );
    expect((await bay('--tree', file('loop.csv', `${HEAD}a,F1,10,regular,F2\na,F2,10,regular,F1`))).stderr).toMatch(
      /line 2: a loop/,
    );
  });
});
