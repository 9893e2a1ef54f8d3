// The whole path through the command line, as built: emulate in one process,
// record in another through the real serial port code, analyse in a third. What
// comes out is the modelled car, and no line is lost.
import { spawn, spawnSync } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Findings } from '../../host/contract/findings.ts';
import { Car } from '../../host/emulator/car/car.ts';
import { WHILE_RECORDING } from '../../host/say/cautions.ts';
import { getScenario } from '../../host/emulator/car/scenarios.ts';
import { truthOf } from '../../host/emulator/car/truth.ts';
import { seededRandom } from '../../host/emulator/random.ts';

const program = new URL('../../.build/host/main.js', import.meta.url).pathname;
/** Slow enough to be kept up with while other tests run. */
const SPEED = 6;
const LENGTH_S = 90;

let folder: string;
let link: string;
let board: ChildProcess;

const nightdraw = (...args: string[]) =>
  spawnSync(process.execPath, [program, ...args], { encoding: 'utf8', timeout: 600_000 });

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-path-'));
  link = join(folder, 'board');
  board = spawn(process.execPath, [program, 'emulate', '--link', link, '--car', 'bench', '--speed', String(SPEED)], {
    stdio: 'ignore',
  });
  for (let tries = 0; tries < 200 && !existsSync(link); tries++) await pause(50);
});

afterAll(() => {
  board.kill('SIGTERM');
  rmSync(folder, { recursive: true, force: true });
});

describe('emulate, record, analyse', () => {
  const scenario = getScenario('bench')!;
  const truth = truthOf(new Car(scenario.car, seededRandom(scenario.seed)), 0, LENGTH_S);

  test('the capture shows the modelled car, with no line lost', () => {
    const out = join(folder, 'bench.nightdraw');
    const recorded = nightdraw('record', '--port', link, '--for', `${LENGTH_S}s`, '--out', out);
    // A busy computer may hold a recorder up for seconds: told, and no fault.
    const said = recorded.stderr.replace(/^\d\d:\d\d:\d\d  this computer stood still.*\n/gm, '');
    const plain = said.replaceAll('\n  ', ' ');
    for (const caution of WHILE_RECORDING) expect(plain).toContain(`! ${caution}\n`);
    expect(said).toMatch(
      /\nrecorded 0:00:\d\d, up to [\d:]+, \d+\.\d mA, 12\.\d\d V\nnightdraw: In the morning: bridge on, .*\n$/,
    );
    expect(recorded.status).toBe(0);
    expect(recorded.stdout).toMatch(
      /0:01:30 recorded, 1[78]\d\d windows, 0.0 s missing, 0 lines lost on the wire, 0 damaged/,
    );

    const { stdout, status } = nightdraw('analyse', out, '--json');
    expect(status).toBe(0);
    const findings = JSON.parse(stdout) as Findings;
    expect(findings.trace.gaps).toEqual([]);
    const found = findings.levels.map((level) => level.level_mA);
    expect(found).toHaveLength(truth.levels.length);
    for (const [i, level] of truth.levels.entries()) {
      // Half a milliampere or one per cent, whichever is more.
      expect(Math.abs(found[i]! - level.mean_mA)).toBeLessThanOrEqual(Math.max(0.5, 0.01 * level.mean_mA));
    }
    expect(findings.steps).toHaveLength(2);
    expect(findings.wakeups).toHaveLength(1);
    const charge = truth.wakeups[0]!.charge_mAh;
    expect(Math.abs(findings.wakeups[0]!.charge_mAh - charge)).toBeLessThan(0.03 * charge);
  });

  test('a finished capture is not recorded over, and nothing else is left in the folder', () => {
    const { status, stderr } = nightdraw(
      'record',
      '--port',
      link,
      '--for',
      '5s',
      '--out',
      join(folder, 'bench.nightdraw'),
    );
    expect(status).toBe(1);
    expect(stderr.trim().split('\n')).toHaveLength(1);
    expect(readdirSync(folder).sort()).toEqual(['bench.nightdraw', 'board']);
  });
});
