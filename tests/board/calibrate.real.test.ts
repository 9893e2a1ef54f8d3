// Calibration as `calibrate` does it: the real image behind its pseudo-terminal, a sense
// chip with errors of its own, and a current that the test knows.
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
import { carOf, IMAGE } from './board-run.ts';

const steady = (mA: number): ModuleSpec => ({ name: 'load', awake: [], asleep_mA: mA });

/** Runs `work` with a board that measures these modules. */
async function onBench(modules: ModuleSpec[], errors: SpecimenErrors, work: (bench: CalibrationBench) => Promise<void>): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'nightdraw-cal-'));
  const link = join(folder, 'board');
  const board = startEmulatedBoard({
    image: IMAGE, scenario: { name: 'load', summary: '', length_s: 60, seed: 5, car: carOf(modules) }, speed: 1, link, errors, log: () => undefined, now_ms: () => performance.now(),
  });
  const bench = new CalibrationBench(link, { time: hostClock, openPort: openSerialPort });
  try {
    await bench.open(new AbortController().signal);
    await work(bench);
  } finally {
    await bench.close();
    board.close();
    rmSync(folder, { recursive: true });
  }
}

describe.concurrent('calibration', () => {
  test('zero takes the offset off and is stored', () => onBench([steady(0)], { offset_nV: 900 }, async (bench) => {
    expect(bench.hello).toMatchObject({ cal: 'none', offset_nV: 0 });
    // 900 nV over 5 mOhm. The mean of two seconds is right to 0.03 mA (firmware/BOARD.md).
    expect(Math.abs((await bench.read()).mean_mA - 0.18)).toBeLessThan(0.04);
    await bench.change({ what: 'zero' });
    expect(bench.hello).toMatchObject({ cal: 'stored', cal_gen: 1, gain_ppm: 0 });
    expect(Math.abs(bench.hello.offset_nV - 900)).toBeLessThan(200);
    expect(Math.abs((await bench.read()).mean_mA)).toBeLessThan(0.04);
    await bench.change({ what: 'forget' });
    expect(bench.hello).toMatchObject({ cal: 'none', offset_nV: 0 });
  }), 60_000);

  test('a known current sets the gain; another, or one that is not there, is refused and stores nothing', () => onBench([steady(1750)], { gain_ppm: 4000 }, async (bench) => {
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
  }), 60_000);

  test('a current that wanders is no known one', () =>
    onBench([{ ...steady(1700), trains: [{ from_s: 0, period_s: 0.7, on_s: 0.35, mA: 60 }] }], {}, async (bench) => {
      await expect(bench.change({ what: 'gain', known_mA: 1730 })).rejects.toThrow(/^the current is not steady \(1(699|700)\.\d to 17(59|60)\.\d mA/);
    }), 60_000);
});
