// What is told of a capture after it was made: a later calibration, with numbers worked
// out by hand, the original kept beside it; job, car and battery; and captures of format 1.
import { copyFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { addCalibration, forgetPrivate, tell } from '../../../host/capture/store/amend.ts';
import { importCsv } from '../../../host/capture/exchange/csv.ts';
import { openCapture } from '../../../host/capture/read/reader.ts';
import type { Hello, Reading } from '../../../host/contract/capture.ts';
import { CaptureWriter, createCapture } from '../../../host/capture/store/writer.ts';

const folder = mkdtempSync(join(tmpdir(), 'nightdraw-amend-'));
afterAll(() => rmSync(folder, { recursive: true }));
let files = 0;

const hello: Hello = {
  kind: 'hello',
  proto: 1,
  fw: '0.2.0',
  mcu: 'native',
  sensor: 'ina228',
  id: 7,
  boot: 3,
  cause: 'power',
  shunt_nOhm: 5_000_000,
  gain_ppm: 0,
  offset_nV: 0,
  window_us: 1_000_000,
  stream: 'bursts',
  speed: 1,
  trigger_uA: 20_000,
};

/**
 * Windows of a second at 10 mA, which is 50 µV in 5 mOhm; those of 4 to 14 s are missing; and a burst of 640 steps of
 * 78.125 nV, 50 µV too.
 */
function night(): string {
  const path = join(folder, `night${files++}`);
  createCapture(path, { kind: 'recorded', software: 'test', created_ms: 0, axis_ms: 0, job: null, origin: null });
  const writer = new CaptureWriter(path);
  const readings: Reading[] = [0, 1, 2, 3, 14, 15].map((i) => ({
    kind: 'window',
    seq: i,
    t_us: (i + 1) * 1e6,
    dur_us: 1e6,
    count: 950,
    mean_uA: 10_000,
    min_uA: 9_000,
    max_uA: 12_000,
    charge_nC: (i + 1) * 10_000_000,
    flags: 0,
  }));
  readings.push({
    kind: 'raw',
    seq: 0,
    t_us: 1_002_000,
    samples: [
      { t_us: 1_001_000, units: 640, flags: 8 },
      { t_us: 1_002_000, units: 640, flags: 0 },
    ],
  });
  writer.commit({
    run: writer.beginRun({ reason: 'start', hello, began_ms: 0 }),
    readings,
    clock: [{ t_us: 0, axis_us: 0 }],
  });
  writer.finish();
  return path;
}

function seen(path: string, original = false) {
  const capture = openCapture(path, { original });
  const trace = capture.trace(),
    far = capture.overview(0, 16, 4),
    [burst] = capture.waveforms(0, 16);
  const values = {
    mean: trace.mean_mA[0]!,
    min: trace.min_mA![0]!,
    max: trace.max_mA![0]!,
    gap_mAs: trace.gaps[0]!.charge_mAh! * 3600,
    far: far.mean[0]!,
    burst: burst!.current_mA[0]!,
  };
  const calibrations = capture.info().calibrations;
  capture.close();
  return { ...values, calibrations };
}

function expectClose(found: ReturnType<typeof seen>, expected: Record<string, number>) {
  for (const [key, value] of Object.entries(expected)) expect(found[key as 'mean'], key).toBeCloseTo(value, 5);
}

describe('a later calibration', () => {
  const asRecorded = { mean: 10, min: 9, max: 12, gap_mAs: 100, far: 10, burst: 10 };

  test('another shunt: 50 µV in 4 mOhm are 12.5 mA, in windows, gaps, overview and bursts', () => {
    const path = night();
    expectClose(seen(path), asRecorded);
    addCalibration(path, {
      made_ms: 86_400_000,
      reason: 'measured',
      shunt_nOhm: 4_000_000,
      gain_ppm: null,
      offset_nV: null,
    });
    const expected = { mean: 12.5, min: 11.25, max: 15, gap_mAs: 125, far: 12.5, burst: 12.5 };
    expectClose(seen(path), expected);
    expectClose(seen(path, true), asRecorded);
    expect(seen(path).calibrations).toEqual([
      { made_ms: 86_400_000, reason: 'measured', shunt_nOhm: 4_000_000, gain_ppm: null, offset_nV: null },
    ]);
  });

  test('gain and offset: (50 µV - 0.5 µV) x 1.001 / 5 mOhm = 9.9099 mA, and the gap loses ten seconds of both', () => {
    const path = night();
    addCalibration(path, { made_ms: 1, reason: 'on the bench', shunt_nOhm: null, gain_ppm: 1000, offset_nV: 500 });
    // 9 and 12 mA are 45 and 60 µV: 44.5 x 1.001 / 5 = 8.9089, 59.5 x 1.001 / 5 = 11.9119.
    expectClose(seen(path), { mean: 9.9099, min: 8.9089, max: 11.9119, gap_mAs: 99.099, far: 9.9099, burst: 9.9099 });
  });

  test("the newest one counts, by itself; one without values is the board's own again", () => {
    const path = night();
    addCalibration(path, { made_ms: 1, reason: 'first', shunt_nOhm: 4_000_000, gain_ppm: null, offset_nV: null });
    addCalibration(path, { made_ms: 2, reason: 'second', shunt_nOhm: null, gain_ppm: 20_000, offset_nV: null });
    expectClose(seen(path), { mean: 10.2, gap_mAs: 102, burst: 10.2 });
    addCalibration(path, { made_ms: 3, reason: 'back', shunt_nOhm: null, gain_ppm: null, offset_nV: null });
    expectClose(seen(path), asRecorded);
    expect(seen(path).calibrations.map(({ reason }) => reason)).toEqual(['first', 'second', 'back']);
  });

  test('is refused where it makes no sense', async () => {
    const csv = join(folder, 'a.csv'),
      path = join(folder, 'imported');
    writeFileSync(csv, 't_s,current_mA\n0,1\n1,2\n');
    await importCsv(csv, path, { software: 'test', created_ms: 0, job: null });
    const row = { made_ms: 1, reason: 'x', shunt_nOhm: 4e6, gain_ppm: null, offset_nV: null };
    expect(() => addCalibration(path, row)).toThrow(/was imported/);
    expect(() => addCalibration(night(), { ...row, shunt_nOhm: 0 })).toThrow(/a shunt of 0 nOhm is not from 1/);
  });
});

describe('job, car and battery', () => {
  test('are set, changed and taken out field by field', () => {
    const path = night();
    const about = () => {
      const capture = openCapture(path);
      const { job, car, battery } = capture.info();
      const result = { job, car, battery, personal: capture.personal() };
      capture.close();
      return result;
    };
    tell(path, {
      job: 'J-9',
      car: { deadAfter_days: 3, note: 'of Gray' },
      battery: { type: 'agm', capacity_Ah: 70, before_V: 12.7 },
      personal: { plate: 'ND 0451' },
    });
    tell(path, { battery: { after_V: 12.5, capacity_Ah: null } });
    expect(about()).toEqual({
      job: 'J-9',
      car: { deadAfter_days: 3, note: 'of Gray' },
      battery: { type: 'agm', before_V: 12.7, after_V: 12.5 },
      personal: { plate: 'ND 0451' },
    });
    expect(() => tell(path, { job: 'other', battery: { capacity_Ah: -1 } })).toThrow(/battery/);
    expect(about().job).toBe('J-9');
    expect(forgetPrivate(path).sort()).toEqual(['job', 'note', 'plate']);
    expect(about()).toEqual({
      job: null,
      car: { deadAfter_days: 3 },
      battery: { type: 'agm', before_V: 12.7, after_V: 12.5 },
      personal: {},
    });
    expect(readFileSync(path).includes('Gray')).toBe(false);
  });
});

describe('a capture of format 1', () => {
  const old = new URL('old/format-1.nightdraw', import.meta.url).pathname;
  const versionIn = (path: string) => readFileSync(path).readUInt32BE(60);

  test('opens as it is, byte for byte untouched', () => {
    const before = readFileSync(old);
    expect(versionIn(old)).toBe(1);
    const capture = openCapture(old);
    const info = capture.info(),
      trace = capture.trace();
    capture.close();
    expect(info).toMatchObject({ kind: 'recorded', state: 'finished', calibrations: [], rawSamples: 0 });
    expect(trace.mean_mA.length).toBe(info.samples);
    expect(info.samples).toBeGreaterThan(0);
    expect(readFileSync(old).equals(before)).toBe(true);
  });

  test('takes a later calibration, and is of format 2 then', () => {
    const path = join(folder, 'old');
    copyFileSync(old, path);
    const mean = () => {
      const capture = openCapture(path);
      const [first] = capture.trace().mean_mA;
      const [run] = capture.info().runs;
      capture.close();
      return { first: first!, shunt_nOhm: run!.hello.shunt_nOhm };
    };
    const before = mean();
    addCalibration(path, {
      made_ms: 1,
      reason: 'x',
      shunt_nOhm: before.shunt_nOhm / 2,
      gain_ppm: null,
      offset_nV: null,
    });
    expect(mean().first).toBeCloseTo(before.first * 2, 9);
    expect(versionIn(path)).toBe(2);
  });
});
