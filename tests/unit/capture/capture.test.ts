// Capture files: what goes in comes out on the right place of the axis, gaps with
// their charge, overviews true to the readings, and every foreign file refused.
import { copyFileSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { openTrace } from '../../../host/night/open.ts';
import { openCapture } from '../../../host/capture/read/reader.ts';
import { readResumePoint } from '../../../host/capture/store/resume.ts';
import { Database, driverFor } from '../../../host/capture/format/sqlite.ts';
import { WINDOW_FLAG } from '../../../host/contract/capture.ts';
import type { Hello, WindowReading } from '../../../host/contract/capture.ts';
import { BAD_LINES_KEPT, CaptureWriter, createCapture, MERGED } from '../../../host/capture/store/writer.ts';

const folder = mkdtempSync(join(tmpdir(), 'nightdraw-capture-'));
afterAll(() => rmSync(folder, { recursive: true }));
let files = 0;
const fresh = () => join(folder, `capture${files++}`);

const hello: Hello = {
  kind: 'hello',
  proto: 1,
  fw: '0.1.0',
  mcu: 'native',
  sensor: 'ina228',
  id: 7,
  boot: 3,
  cause: 'power',
  shunt_nOhm: 5_000_000,
  gain_ppm: 0,
  offset_nV: 0,
  window_us: 50_000,
  stream: 'windows',
  speed: 1,
};

const AXIS_MS = Date.UTC(2031, 4, 4, 22);

/** Windows of 50 ms that tile the time, with a current of `current_uA(i)`. */
function windows(from: number, count: number, current_uA: (i: number) => number): WindowReading[] {
  let charge_nC = 0;
  for (let i = 0; i < from; i++) charge_nC += current_uA(i) * 50;
  return Array.from({ length: count }, (_, k) => {
    const i = from + k;
    charge_nC += current_uA(i) * 50;
    return {
      kind: 'window',
      seq: i,
      t_us: (i + 1) * 50_000,
      dur_us: 50_000,
      count: 47,
      mean_uA: current_uA(i),
      min_uA: current_uA(i) - 500,
      max_uA: current_uA(i) + 900,
      charge_nC,
      flags: 0,
    };
  });
}

function create(path = fresh()): { path: string; writer: CaptureWriter } {
  createCapture(path, {
    kind: 'recorded',
    software: 'test',
    created_ms: AXIS_MS,
    axis_ms: AXIS_MS,
    job: 'J-1',
    origin: { scenario: 'test', seed: 4 },
  });
  return { path, writer: new CaptureWriter(path) };
}

function traceOf(path: string) {
  const capture = openCapture(path);
  const result = { trace: capture.trace(), info: capture.info(), voltage: capture.voltage() };
  capture.close();
  return { ...result, t_s: result.trace.time.kind === 'listed' ? result.trace.time.t_s : new Float64Array(0) };
}

describe('round trip', () => {
  test('windows, voltages, statuses, bad lines; merged and pending blocks; one file at the end', () => {
    const { path, writer } = create();
    const all = windows(0, 3 * MERGED + 777, (i) => 12_000 + ((i * 7919) % 1000));
    const run = writer.beginRun({ reason: 'start', hello, began_ms: AXIS_MS });
    for (let i = 0; i < all.length; i += 19) {
      writer.commit({
        run,
        readings: [
          ...all.slice(i, i + 19),
          { kind: 'voltage', seq: i / 19, t_us: all[i]!.t_us, bus_mV: 12_600 - (i % 50), temp_mC: 21_500, dropped: 0 },
        ],
        clock: [{ t_us: 0, axis_us: 250_000 }],
      });
    }
    writer.commit({
      run,
      readings: [{ kind: 'status', seq: 0, t_us: 1_000_000, code: 'bus-nack', detail: 4 }],
      badLines: [{ wall_ms: 5, reason: 'wrong check code', line: 'W 1' }],
      badLineCount: 3,
    });
    for (const step of ['recording', 'finished'] as const) {
      if (step === 'finished') writer.finish();
      const { trace, info, voltage, t_s } = traceOf(path);
      expect(info).toMatchObject({
        path,
        kind: 'recorded',
        state: step,
        job: 'J-1',
        origin: { scenario: 'test', seed: 4 },
        samples: all.length,
        badLineCount: 3,
        badLines: [{ wall_ms: 5, reason: 'wrong check code', line: 'W 1' }],
        start_ms: AXIS_MS + 250,
        runs: [{ id: 1, reason: 'start', hello }],
      });
      expect(info.duration_s).toBeCloseTo(all.length * 0.05, 9);
      expect(trace).toMatchObject({ kind: 'windows', start_ms: AXIS_MS + 250, gaps: [] });
      all.forEach((w, i) => {
        if (
          trace.mean_mA[i] !== w.mean_uA / 1000 ||
          trace.min_mA![i] !== w.min_uA / 1000 ||
          trace.max_mA![i] !== w.max_uA / 1000
        )
          throw new Error(`sample ${i}`);
        if (Math.abs(t_s[i]! - i * 0.05) > 1e-9 || Math.abs(trace.dur_s![i]! - 0.05) > 1e-9)
          throw new Error(`time of sample ${i}`);
      });
      expect(voltage!.t_s.length).toBe(Math.ceil(all.length / 19));
      expect([voltage!.voltage_V[1], voltage!.temp_C![1]]).toEqual([12.581, 21.5]);
      expect(voltage!.t_s[1]).toBeCloseTo(20 * 0.05, 9);
    }
    const capture = openCapture(path);
    expect(capture.statuses()).toMatchObject([{ code: 'bus-nack', detail: 4, t_s: 1 }]);
    capture.close();
    expect(
      readdirSync(folder).filter(
        (name) => path.endsWith(name.replace(/-(wal|shm|journal)$/, '')) && name !== path.split('/').pop(),
      ),
    ).toEqual([]);
  });

  test("marks lie on the trace's axis", () => {
    const { path, writer } = create();
    const run = writer.beginRun({ reason: 'start', hello, began_ms: AXIS_MS });
    writer.commit({ run, readings: windows(0, 100, () => 5000), clock: [{ t_us: 0, axis_us: 300_000 }] });
    writer.finish();
    const db = new Database(path);
    db.exec("INSERT INTO mark (axis_us, text) VALUES (1300000, 'door shut')");
    db.close();
    expect(traceOf(path).info.marks).toEqual([{ t_s: 1, text: 'door shut' }]);
  });

  test('bad lines are kept up to a bound, counted beyond it', () => {
    const { path, writer } = create();
    const run = writer.beginRun({ reason: 'start', hello, began_ms: AXIS_MS });
    for (let i = 0; i < 3; i++)
      writer.commit({
        run,
        readings: [],
        badLines: Array.from({ length: 600 }, () => ({ wall_ms: 1, reason: 'r', line: 'l' })),
        badLineCount: 600 * (i + 1),
      });
    writer.finish();
    const { info } = traceOf(path);
    expect([info.badLines.length, info.badLineCount, info.samples, info.start_ms]).toEqual([
      BAD_LINES_KEPT,
      1800,
      0,
      null,
    ]);
  });

  test('a capture that was left open goes on where it stopped', () => {
    const { path, writer } = create();
    const all = windows(0, 2 * MERGED, () => 5000);
    const run = writer.beginRun({ reason: 'start', hello, began_ms: AXIS_MS });
    writer.commit({ run, readings: all.slice(0, 100), clock: [{ t_us: 0, axis_us: 40 }] });
    writer.commit({ run, readings: all.slice(100, 150) });
    writer.close();
    expect(readResumePoint(path)).toMatchObject({
      run: { id: 1, hello },
      clock: [{ t_us: 0, axis_us: 40 }],
      last: [{ kind: 'window', seq: 149, t_us: 7_500_000 }],
      axis_ms: AXIS_MS,
      recorded_s: 7.5,
    });
    const again = new CaptureWriter(path);
    again.commit({ run, readings: all.slice(150) });
    again.finish();
    const { trace } = traceOf(path);
    expect(trace.mean_mA.length).toBe(all.length);
    expect(trace.gaps).toEqual([]);
    expect(() => readResumePoint(path)).toThrow(/finished recording/);
  });
});

describe('gaps', () => {
  const current = (i: number) => (i < 40 ? 10_000 : 250_000);

  test('within a boot the running charge tells what flowed', () => {
    const { path, writer } = create();
    const run = writer.beginRun({ reason: 'start', hello, began_ms: AXIS_MS });
    const all = windows(0, 200, current);
    writer.commit({ run, readings: [...all.slice(0, 20), ...all.slice(120)] });
    writer.finish();
    const { trace } = traceOf(path);
    // 20 windows at 10 mA and 80 at 250 mA, 50 ms each.
    const charge_mAh = ((20 * 10 + 80 * 250) * 0.05) / 3600;
    expect(trace.gaps).toEqual([{ start_s: 1, end_s: 6, charge_mAh: expect.closeTo(charge_mAh, 9) as number }]);
  });

  test('after a fault of the board, and across boots, nobody knows', () => {
    const { path, writer } = create();
    const run = writer.beginRun({ reason: 'start', hello, began_ms: AXIS_MS });
    const all = windows(0, 200, current);
    all[120]!.flags = WINDOW_FLAG.notJoined;
    writer.commit({ run, readings: [...all.slice(0, 20), ...all.slice(120)], clock: [{ t_us: 0, axis_us: 0 }] });
    const next = writer.beginRun({ reason: 'boot', hello: { ...hello, boot: 4 }, began_ms: AXIS_MS });
    writer.commit({ run: next, readings: windows(0, 50, current), clock: [{ t_us: 0, axis_us: 30e6 }] });
    writer.finish();
    const { trace, info, t_s } = traceOf(path);
    expect(trace.gaps).toMatchObject([
      { start_s: 1, end_s: 6, charge_mAh: null },
      { start_s: 10, end_s: 30, charge_mAh: null },
    ]);
    // 10 to 250 mA on either side, for 20 s: an estimate from what is around it.
    expect(trace.gaps[1]!.estimate_mAh).toEqual({
      low: expect.closeTo((10 * 20) / 3600, 9) as number,
      high: expect.closeTo((250 * 20) / 3600, 9) as number,
    });
    expect([info.duration_s, info.runs.length, t_s[100]]).toEqual([32.5, 2, 30]);
  });

  test('a later boot never lies before the end of the one before, whatever its clock says', () => {
    const { path, writer } = create();
    const run = writer.beginRun({ reason: 'start', hello, began_ms: AXIS_MS });
    writer.commit({ run, readings: windows(0, 100, current), clock: [{ t_us: 0, axis_us: 0 }] });
    const next = writer.beginRun({ reason: 'boot', hello, began_ms: AXIS_MS });
    writer.commit({ run: next, readings: windows(0, 100, current), clock: [{ t_us: 0, axis_us: 4e6 }] });
    writer.finish();
    const { trace, t_s } = traceOf(path);
    expect(t_s.every((t, i) => i === 0 || t > t_s[i - 1]!)).toBe(true);
    expect([trace.gaps, t_s[100]]).toEqual([[], 5]);
  });

  test('a clock with a rate stretches times and gap charges alike', () => {
    const { path, writer } = create();
    const run = writer.beginRun({ reason: 'start', hello, began_ms: AXIS_MS });
    const all = windows(0, 200, () => 36_000);
    writer.commit({
      run,
      readings: [...all.slice(0, 20), ...all.slice(120)],
      clock: [
        { t_us: 0, axis_us: 0 },
        { t_us: 10e6, axis_us: 10.05e6 },
      ],
    });
    writer.finish();
    const { trace, info } = traceOf(path);
    expect(info.duration_s).toBeCloseTo(10.05, 9);
    expect(trace.dur_s![50]).toBeCloseTo(0.05025, 9);
    // 36 mA for 5 s of the board's time are 5.025 s: 0.05025 mAh.
    expect(trace.gaps[0]!.charge_mAh).toBeCloseTo(0.05025, 9);
  });
});

describe('reading while it is recorded', () => {
  test('readers come and go in the same process; the writer goes on and leaves one file', async () => {
    const { path, writer } = create();
    const run = writer.beginRun({ reason: 'start', hello, began_ms: AXIS_MS });
    const all = windows(0, 400, () => 5000);
    for (let i = 0; i < all.length; i += 20) {
      writer.commit({ run, readings: all.slice(i, i + 20) });
      expect((await openTrace(path)).trace.mean_mA.length).toBe(i + 20);
    }
    const stays = openCapture(path);
    expect(stays.info().samples).toBe(400);
    stays.close();
    writer.finish();
    expect(readdirSync(folder).filter((name) => name.startsWith(path.split('/').pop()!))).toEqual([
      path.split('/').pop(),
    ]);
  });

  const beside = (path: string) => readdirSync(folder).filter((name) => name.startsWith(path.split('/').pop()!)).length;

  test('a reader that stays open until after the end costs no reading, and takes the rest away when it goes', () => {
    const { path, writer } = create();
    const run = writer.beginRun({ reason: 'start', hello, began_ms: AXIS_MS });
    writer.commit({ run, readings: windows(0, 100, () => 5000) });
    const stays = openCapture(path);
    expect(stays.info().samples).toBe(100);
    writer.finish();
    expect(stays.info()).toMatchObject({ samples: 100, state: 'finished' });
    stays.close();
    expect(beside(path)).toBe(1);
    expect(traceOf(path).info).toMatchObject({ samples: 100, state: 'finished' });
  });

  test('a copy of an unfinished capture is read without a trace beside it; what lies in a -wal stays there', async () => {
    const { path, writer } = create();
    const run = writer.beginRun({ reason: 'start', hello, began_ms: AXIS_MS });
    writer.commit({ run, readings: windows(0, 100, () => 5000) });
    const copy = fresh(),
      whole = fresh();
    copyFileSync(path, copy);
    copyFileSync(path, whole);
    copyFileSync(`${path}-wal`, `${whole}-wal`);
    await expect(openTrace(copy)).rejects.toThrow(/copy .*-wal with it/);
    expect(beside(copy)).toBe(1);
    const before = readFileSync(whole);
    expect(traceOf(whole).info.samples).toBe(100);
    expect(readFileSync(whole).equals(before)).toBe(true);
    expect(traceOf(whole).info.samples).toBe(100);
    writer.finish();
  });
});

describe('overview', () => {
  const spikeAt = 60_000;
  const { path, writer } = create();
  const all = windows(0, 100_000, (i) => (i === spikeAt ? 900_000 : 20_000 + (i % 10) * 100));
  const run = writer.beginRun({ reason: 'start', hello, began_ms: AXIS_MS });
  for (let i = 0; i < all.length; i += 1000) writer.commit({ run, readings: all.slice(i, i + 1000) });
  writer.finish();

  test.each([
    [0, 5000, 1000],
    [2900, 3100, 50],
    [2999, 3001, 40],
    [2999.9, 3000.1, 500],
  ])('%d to %d s in %d bins agrees with the readings', (from, to, bins) => {
    const capture = openCapture(path);
    const o = capture.overview(from, to, bins);
    capture.close();
    const width = (to - from) / bins;
    const spikeBin = Math.floor((spikeAt * 0.05 - from) / width + 1e-9);
    expect(o.max[spikeBin]).toBeCloseTo(900.9, 3);
    // A group of 64 windows reaches 3.2 s around the spike at most.
    for (let b = 0; b < bins; b++) if (Math.abs(b - spikeBin) > 3.2 / width + 1) expect(o.max[b]).toBeLessThan(22);
    const within = all.slice(Math.round(from / 0.05), Math.round(to / 0.05));
    expect(Math.min(...o.min)).toBeCloseTo(Math.min(...within.map((w) => w.min_uA)) / 1000, 3);
    const charge = o.mean.reduce((sum, mean) => sum + mean * width, 0);
    const trueCharge = within.reduce((sum, w) => sum + (w.mean_uA / 1000) * 0.05, 0);
    expect(Math.abs(charge / trueCharge - 1)).toBeLessThan(1e-3);
    expect(o.mean.every((mean, b) => mean >= o.min[b]! - 1e-3 && mean <= o.max[b]! + 1e-3)).toBe(true);
  });

  test('the whole charge is kept by bins over everything', () => {
    const capture = openCapture(path);
    const o = capture.overview(0, 5000, 500);
    capture.close();
    const mean = all.reduce((sum, w) => sum + w.mean_uA / 1000, 0) / all.length;
    expect(o.mean.reduce((a, b) => a + b, 0) / 500).toBeCloseTo(mean, 3);
  });

  test('bins beyond the ends are empty', () => {
    const capture = openCapture(path);
    const o = capture.overview(-100, 6000, 61);
    capture.close();
    expect(o.mean[0]).toBeNaN();
    expect(o.max[60]).toBeNaN();
    expect(o.mean[30]).toBeGreaterThan(19);
    expect(() => openCapture(path).overview(5, 5, 10)).toThrow(/5 to 5 s/);
  });
});

describe('refusals', () => {
  const message = async (path: string) =>
    openTrace(path).then(
      () => '',
      (error: Error) => error.message,
    );

  test('files that are no capture', async () => {
    const path = fresh();
    writeFileSync(path, 'SQLite format 3\0 and then nothing of the kind');
    expect(await message(path)).toMatch(/neither a capture nor a CSV/);
    const other = fresh();
    new Database(other).exec('CREATE TABLE t (x)').close();
    expect(await message(other)).toMatch(/database of some other program/);
    writeFileSync(other, '');
    expect(await message(other)).toMatch(/is empty/);
    expect(() => openCapture(other)).toThrow(/is empty/);
  });

  test('a newer format, with what to do', async () => {
    const { path, writer } = create();
    writer.finish();
    const db = new Database(path);
    db.pragma('user_version = 3');
    db.close();
    expect(await message(path)).toMatch(/format 3, made by a newer nightdraw; this one reads up to format 2/);
  });

  test('a capture without a sample', async () => {
    const { path, writer } = create();
    writer.finish();
    expect(await message(path)).toMatch(/holds no sample/);
  });

  test('a damaged block is named', async () => {
    const { path, writer } = create();
    const run = writer.beginRun({ reason: 'start', hello, began_ms: AXIS_MS });
    writer.commit({ run, readings: windows(0, 100, () => 5) });
    writer.finish();
    const db = new Database(path);
    db.exec("UPDATE block SET data = CAST(x'00' || data AS BLOB)");
    db.close();
    expect(await message(path)).toMatch(/is damaged in block \d+: its check value/);
  });

  test('damaged words in the tables', async () => {
    const broken: [string, RegExp][] = [
      ["UPDATE info SET value = '\"later\"' WHERE key = 'state'", /table info lacks a proper 'state'/],
      ["UPDATE info SET value = 'x' WHERE key = 'state'", /table info holds text that is no JSON/],
      ["UPDATE run SET hello = '{}'", /table run lacks a proper 'kind'/],
    ];
    for (const [sql, expected] of broken) {
      const { path, writer } = create();
      writer.beginRun({ reason: 'start', hello, began_ms: AXIS_MS });
      writer.finish();
      const db = new Database(path);
      db.exec(sql);
      db.close();
      expect(await message(path)).toMatch(expected);
    }
  });

  test('a name that is taken, a folder that is not there', () => {
    const { path, writer } = create();
    writer.finish();
    expect(() => create(path)).toThrow(/exists already/);
    expect(() => create(join(folder, 'no', 'such'))).toThrow(/cannot be written/);
    expect(readdirSync(folder).filter((name) => name.includes('.new-'))).toEqual([]);
  });
});

test('the driver is one that this Node.js can run, and SQLite is not older than what the format needs', () => {
  // Node-API of Node 20.20 and 22.13 is 9, of 22.14 and later 10: nodejs.org/api/n-api.html, "Node-API version matrix".
  expect([9, 10, 11].map(driverFor)).toEqual(['better-sqlite3-node20', 'better-sqlite3', 'better-sqlite3']);
  const db = new Database(':memory:');
  expect((db.prepare('SELECT sqlite_version() AS version').get() as { version: string }).version).toMatch(/^3\.5\d\./);
  db.close();
});
