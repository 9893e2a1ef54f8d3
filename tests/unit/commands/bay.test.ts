// `nightdraw bay` away from the car: the tree looked over, the voltages of a box, nights
// compared, and wrong use in one line.
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';

const program = new URL('../../../.build/host/main.js', import.meta.url).pathname;
const TREE = new URL('../../../host/bay/examples/demo-tree.csv', import.meta.url).pathname;
const HEAD = 'box,position,rating,type,feeds\n';

let folder: string;
const file = (name: string, text: string) => {
  const path = join(folder, name);
  writeFileSync(path, text);
  return path;
};
const bay = (...args: string[]) => spawnSync(process.execPath, [program, 'bay', ...args], { encoding: 'utf8', timeout: 60_000 });

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
  test('looks a tree over', () => {
    expect(bay('--tree', TREE).stdout).toMatch(/28 fuses, 1 relay, 35 parts; no mistake found/);
  });

  // 0.2 mV over 1.97 mOhm (30 A regular, ISO 8820-3 type C, Littelfuse ATOF 287 data sheet) is 101.5 mA.
  test('a box of voltages as currents, and what they do not account for', () => {
    const { stdout, status } = bay('--tree', TREE, '--drops', file('box.csv', 'fuse;mV\nD1;0,2\nD9;0,7'), '--total', '400');
    expect(status).toBe(0);
    expect(stdout).toMatch(/D1 +0.2 mV +102 mA/);
    expect(stdout.replace(/\s+/g, ' ')).toMatch(/Of the 400 mA measured, 298 mA flow somewhere else/);
  });

  test('proven, not proven, too short', () => {
    const before = night('before.csv', 5, 300);
    expect(bay('--before', before, '--after', night('good.csv', 5, 20)).stdout).toMatch(/^Proven: /);
    expect(bay('--before', before, '--after', night('bad.csv', 5, 120)).stdout).toMatch(/^Not proven: /);
    expect(bay('--before', before, '--after', night('short.csv', 0.5, 20)).stdout).toMatch(/^Too short: /);
  });

  test('says what to leave out for a night', () => {
    expect(bay('--tree', TREE, '--night', night('night.csv', 5, 30)).stdout).toMatch(/1\. Leave fuse .* out for a night/);
  });

  test.each([
    ['no option', [], 2, /--tree is missing/],
    ['a total that is none', ['--tree', TREE, '--total', 'much'], 2, /--total much is not a number/],
    ['a file that is not there', ['--tree', '/nowhere.csv'], 1, /nowhere\.csv is not there; give the CSV file/],
    ['nothing to go on with', ['--out', '/nowhere.nightdraw'], 2, /begin with --tree/],
    ['no terminal', ['--tree', TREE, '--out', '/nowhere.nightdraw'], 2, /led by keys; run it in a terminal/],
    ['half a comparison', ['--before', 'a.csv'], 2, /--after is missing/],
  ])('%s: one line', (_, args, code, text) => {
    const { status, stderr } = bay(...args);
    expect(status).toBe(code);
    expect(stderr).toMatch(text);
    expect(stderr.trim().split('\n')).toHaveLength(1);
  });

  test('a reading that cannot be, and a loop, are told with their line or fuse', () => {
    expect(bay('--tree', TREE, '--drops', file('blown.csv', 'fuse,mV\nD2,12600')).stderr).toMatch(/is the fuse blown, or the meter not on mV\?/);
    expect(bay('--tree', TREE, '--drops', file('unknown.csv', 'fuse,mV\nX9,1')).stderr).toMatch(/line 2: 'X9' is no fuse of the tree/);
    expect(bay('--tree', file('loop.csv', `${HEAD}a,F1,10,regular,F2\na,F2,10,regular,F1`)).stderr).toMatch(/line 2: a loop/);
  });
});
