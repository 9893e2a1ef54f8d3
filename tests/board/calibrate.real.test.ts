// Calibration as `calibrate` does it: the real image behind its pseudo-terminal, a sense
// chip with errors of its own, and a current that the test knows.
import { execFile } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { hostClock } from '../../host/commands/host-clock.ts';
import { openSerialPort } from '../../host/link/serial-port.ts';
import type { ModuleSpec } from '../../host/emulator/car/spec.ts';
import { startEmulatedBoard } from '../../host/emulator/emulated-port.ts';
import type { SpecimenErrors } from '../../host/emulator/sense-chip.ts';
import { CalibrationBench } from '../../host/link/calibration.ts';
import { WHILE_CALIBRATING } from '../../host/say/cautions.ts';
import { carOf, IMAGE } from './board-run.ts';

const PROGRAM = new URL('../../.build/host/main.js', import.meta.url).pathname;

const steady = (mA: number): ModuleSpec => ({ name: 'load', awake: [], asleep_mA: mA });

/** Runs `work` with the port of a board that measures these modules. */
async function withBoard(
  modules: ModuleSpec[],
  errors: SpecimenErrors,
  work: (link: string) => Promise<void>,
): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'nightdraw-cal-'));
  const link = join(folder, 'board');
  const board = startEmulatedBoard({
    image: IMAGE,
    scenario: { name: 'load', summary: '', length_s: 60, seed: 5, car: carOf(modules) },
    speed: 1,
    link,
    errors,
    log: () => undefined,
    now_ms: () => performance.now(),
  });
  try {
    await work(link);
  } finally {
    board.close();
    rmSync(folder, { recursive: true });
  }
}

const onBench = (
  modules: ModuleSpec[],
  errors: SpecimenErrors,
  work: (bench: CalibrationBench) => Promise<void>,
): Promise<void> =>
  withBoard(modules, errors, async (link) => {
    const bench = new CalibrationBench(link, { time: hostClock, openPort: openSerialPort });
    try {
      await bench.open(new AbortController().signal);
      await work(bench);
    } finally {
      await bench.close();
    }
  });

/** The command as built, which ends by itself. */
/** Said where a load or nothing is to be connected. */
const CAUTIONS = WHILE_CALIBRATING.map((caution) => `nightdraw: ${caution}\n`).join('');

function calibrate(...words: string[]): Promise<{ code: number; stdout: string; stderr: string }> {
  return new Promise((resolve) => {
    execFile(process.execPath, [PROGRAM, 'calibrate', ...words], (error, stdout, stderr) =>
      resolve({ code: error === null ? 0 : (error.code as number), stdout, stderr }),
    );
  });
}

describe.concurrent('calibration', () => {
  test(
    'zero takes the offset off and is stored',
    () =>
      onBench([steady(0)], { offset_nV: 900 }, async (bench) => {
        expect(bench.hello).toMatchObject({ cal: 'none', offset_nV: 0 });
        // 900 nV over 5 mOhm. The mean of two seconds is right to 0.03 mA (firmware/BOARD.md).
        expect(Math.abs((await bench.read()).mean_mA - 0.18)).toBeLessThan(0.04);
        await bench.change({ what: 'zero' });
        expect(bench.hello).toMatchObject({ cal: 'stored', cal_gen: 1, gain_ppm: 0 });
        expect(Math.abs(bench.hello.offset_nV - 900)).toBeLessThan(200);
        expect(Math.abs((await bench.read()).mean_mA)).toBeLessThan(0.04);
        await bench.change({ what: 'forget' });
        expect(bench.hello).toMatchObject({ cal: 'none', offset_nV: 0 });
      }),
    60_000,
  );

  test(
    'a known current sets the gain; another, or one that is not there, is refused and stores nothing',
    () =>
      onBench([steady(1750)], { gain_ppm: 4000 }, async (bench) => {
        expect(Math.abs((await bench.read()).mean_mA - 1757)).toBeLessThan(0.5);
        await expect(bench.change({ what: 'zero' })).rejects.toThrow(/^175\d\.\d mA flow, and a zero needs none/);
        await expect(bench.change({ what: 'gain', known_mA: 1600 })).rejects.toThrow(/more than 5 % from 1600 mA/);
        await expect(bench.change({ what: 'gain', known_mA: -1750 })).rejects.toThrow(/more than 5 % from -1750 mA/);
        expect(bench.hello).toMatchObject({ cal: 'none', gain_ppm: 0 });
        await bench.change({ what: 'gain', known_mA: 1750 });
        expect(bench.hello).toMatchObject({ cal: 'stored', cal_gen: 1, offset_nV: 0 });
        // 1 / 1.004 - 1 in millionths.
        expect(Math.abs(bench.hello.gain_ppm + 3984)).toBeLessThan(100);
        expect(Math.abs((await bench.read()).mean_mA - 1750)).toBeLessThan(0.2);
      }),
    60_000,
  );

  test(
    'a current that wanders is no known one',
    () =>
      onBench([{ ...steady(1700), trains: [{ from_s: 0, period_s: 0.7, on_s: 0.35, mA: 60 }] }], {}, async (bench) => {
        await expect(bench.change({ what: 'gain', known_mA: 1730 })).rejects.toThrow(
          /^the current is not steady \(1(699|700)\.\d to 17(59|60)\.\d mA/,
        );
      }),
    60_000,
  );

  test('the command: what the board reads, its zero stored, still there for the next call, and forgotten', () =>
    withBoard([steady(0)], { offset_nV: 900 }, async (link) => {
      /** One call: how the board is calibrated, and the mean that it reads. */
      const call = async (...words: string[]) => {
        const { code, stdout, stderr } = await calibrate('--port', link, ...words);
        expect([code, stderr]).toEqual([0, words.includes('--zero') ? CAUTIONS : '']);
        const found =
          /^(stored in the board: )?shunt 5 mΩ, gain 0\.000 %, offset (\d\.\d{3}) µV; (.*)\nit reads (-?\d+\.\d\d) mA \(-?\d+\.\d\d to -?\d+\.\d\d in two seconds\)\n$/.exec(
            stdout,
          );
        expect(found, stdout).not.toBeNull();
        return {
          stored: found![1] !== undefined,
          offset_uV: Number(found![2]),
          how: found![3],
          mean_mA: Number(found![4]),
        };
      };
      const before = await call();
      expect(before).toMatchObject({ stored: false, offset_uV: 0, how: 'not calibrated' });
      expect(Math.abs(before.mean_mA - 0.18)).toBeLessThan(0.04);
      const zeroed = await call('--zero');
      expect(zeroed).toMatchObject({ stored: true, how: 'calibrated (stored 1 times)' });
      expect(Math.abs(zeroed.offset_uV - 0.9)).toBeLessThan(0.2);
      expect(Math.abs(zeroed.mean_mA)).toBeLessThan(0.04);
      expect(await call()).toMatchObject({ stored: false, offset_uV: zeroed.offset_uV, how: zeroed.how });
      expect(await call('--forget')).toMatchObject({ stored: true, offset_uV: 0, how: 'not calibrated' });
    }));

  test('the command refuses a zero while a current flows, and a port that is not there, in one line', () =>
    withBoard([steady(1750)], {}, async (link) => {
      const refused = await calibrate('--port', link, '--zero');
      expect(refused.stderr.startsWith(CAUTIONS)).toBe(true);
      expect({ ...refused, stderr: refused.stderr.slice(CAUTIONS.length) }).toEqual({
        code: 1,
        stdout: '',
        stderr: expect.stringMatching(/^nightdraw: 17\d\d\.\d mA flow, and a zero needs none[^\n]*\n$/) as string,
      });
      expect((await calibrate('--port', link)).stdout).toMatch(
        /^shunt 5 mΩ, gain 0\.000 %, offset 0\.000 µV; not calibrated\nit reads 17\d\d\./,
      );
      expect(await calibrate('--port', `${link}-none`)).toEqual({
        code: 1,
        stdout: '',
        stderr: expect.stringMatching(/^nightdraw: [^\n]*board-none[^\n]*\n$/) as string,
      });
    }));
});
