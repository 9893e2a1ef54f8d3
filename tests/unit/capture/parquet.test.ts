// Parquet and JSON out and back with every stream in them, and DuckDB as the other
// program: it counts and sums the same.
import { DuckDBInstance } from '@duckdb/node-api';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { addCalibration, addMark, tell } from '../../../host/capture/store/amend.ts';
import { importCsv } from '../../../host/capture/exchange/csv.ts';
import { captureAsJson, captureFromJson } from '../../../host/capture/exchange/export-json.ts';
import { writeParquet } from '../../../host/capture/exchange/export-parquet.ts';
import { captureFromParquet } from '../../../host/capture/exchange/import-parquet.ts';
import { openCapture } from '../../../host/capture/read/reader.ts';
import type { Hello, RawReading, Reading } from '../../../host/contract/capture.ts';
import { CaptureWriter, createCapture } from '../../../host/capture/store/writer.ts';

const folder = mkdtempSync(join(tmpdir(), 'nightdraw-parquet-'));
afterAll(() => rmSync(folder, { recursive: true }));
let files = 0;
const fresh = (end = '') => join(folder, `file${files++}${end}`);

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
  window_us: 50_000,
  stream: 'raw',
  speed: 1,
  trigger_uA: 20_000,
};

const RAW_LINES = 6000,
  WINDOWS = 5000;

function recorded(): string {
  const path = fresh();
  createCapture(path, {
    kind: 'recorded',
    software: 'test',
    created_ms: 5,
    axis_ms: 1e12,
    job: 'J-1',
    origin: { seed: 4 },
    personal: { plate: 'ND 0451' },
  });
  const writer = new CaptureWriter(path);
  const clock = [
    { t_us: 0, axis_us: 250_000.25 },
    { t_us: 60e6, axis_us: 60.3e6 },
  ];
  const run = writer.beginRun({ reason: 'start', hello, began_ms: 1e12 });
  writer.describeRun(run, {
    limits: {
      kind: 'limits',
      range_uV: 163_840,
      step_pV: 78_125,
      offset_nV: 1000,
      gain_ppm: 500,
      conv_us: 1052,
      temp: true,
    },
  });
  const windows = Array.from({ length: WINDOWS }, (_, i): Reading => ({
    kind: 'window',
    seq: i,
    t_us: (i + 1) * 50_011,
    dur_us: 50_011,
    count: 47,
    mean_uA: 12_345 + ((i * 7919) % 977),
    min_uA: -3,
    max_uA: 99_999,
    charge_nC: 2 ** 52 + i * 617,
    flags: i % 4,
  }));
  const raw = Array.from({ length: RAW_LINES }, (_, i): RawReading => {
    const samples = Array.from({ length: 6 }, (_unused, k) => ({
      t_us: 3e6 + i * 7000 + k * 1052,
      units: (((i * 6 + k) * 7919) % 1500) - 100,
      flags: i % 9 === 0 ? 8 : 0,
    }));
    return { kind: 'raw', seq: i + (i > 900 ? 5 : 0), t_us: samples.at(-1)!.t_us, samples };
  });
  for (let i = 0; i < RAW_LINES; i += 500)
    writer.commit({
      run,
      readings: [...windows.slice(i, Math.min(i + 500, WINDOWS)), ...raw.slice(i, i + 500)],
      clock,
      badLines: i === 0 ? [{ wall_ms: 7, reason: 'wrong check code', line: 'W 1 \u00ff' }] : [],
      badLineCount: 3,
    });
  for (let seq = 0; seq < 200; seq++)
    writer.commit({
      run,
      readings: [
        { kind: 'voltage', seq, t_us: seq * 1e6 + 5, bus_mV: 12_600 - seq, temp_mC: 21_000 + seq, dropped: 0 },
      ],
    });
  writer.beginRun({ reason: 'boot', hello: { ...hello, boot: 4 }, began_ms: 1e12 + 500_000 }, null);
  const third = writer.beginRun({ reason: 'boot', hello: { ...hello, boot: 5 }, began_ms: 1e12 + 600_000 }, 1.5);
  writer.commit({
    run: third,
    readings: [
      ...windows.slice(0, 700),
      { kind: 'voltage', seq: 0, t_us: 5, bus_mV: 12_000, temp_mC: NaN, dropped: 0 },
      { kind: 'status', seq: 0, t_us: 99, code: 'bus-nack', detail: -4 },
    ],
    clock: [{ t_us: 0, axis_us: 600e6 }],
  });
  writer.finish();
  addMark(path, 12.5, '=cmd|door, "driver"');
  addCalibration(path, { made_ms: 9, reason: 'measured', shunt_nOhm: 4_000_000, gain_ppm: null, offset_nV: 250 });
  tell(path, { car: { deadAfter_days: 3, note: 'of Gray' }, battery: { type: 'agm', capacity_Ah: 70 } });
  return path;
}

function all(path: string, original = false) {
  const capture = openCapture(path, { original });
  const lines = [...capture.rawLines()].flatMap(({ run, lines: some }) => some.map((line) => ({ run, ...line })));
  const result = {
    info: { ...capture.info(), path: '' },
    trace: capture.trace(),
    voltage: capture.voltage(),
    statuses: capture.statuses(),
    readings: capture.readings(),
    axis_ms: capture.axis_ms(),
    lines,
    waves: capture.waveforms(0, 1000),
  };
  capture.close();
  return result;
}

/** What an export without names leaves out. */
const nameless = (found: ReturnType<typeof all>) => ({ ...found, info: { ...found.info, car: { deadAfter_days: 3 } } });

describe('out and back', () => {
  const path = recorded();

  test('as Parquet: equal in everything but what names people', async () => {
    const out = fresh('.parquet'),
      back = fresh();
    writeParquet(path, out, { personal: false });
    expect(readFileSync(out, 'latin1')).not.toMatch(/ND 0451|Gray/);
    expect(await captureFromParquet(out, back)).toEqual({ samples: WINDOWS + 700 });
    expect(all(back)).toEqual(nameless(all(path)));
    expect(all(back, true)).toEqual(nameless(all(path, true)));
  });

  test('as Parquet with names, where they are asked for', async () => {
    const out = fresh('.parquet'),
      back = fresh();
    writeParquet(path, out, { personal: true });
    await captureFromParquet(out, back);
    expect(all(back)).toEqual(all(path));
    const capture = openCapture(back);
    expect(capture.personal()).toEqual({ plate: 'ND 0451' });
    capture.close();
  });

  test('as JSON too', async () => {
    const back = fresh(),
      text = captureAsJson(path);
    expect(text).not.toMatch(/ND 0451|Gray/);
    await captureFromJson(text, 'x.json', back);
    expect(all(back)).toEqual(nameless(all(path)));
    expect(captureAsJson(back)).toBe(text);
  });

  test('imported points, blank cells, signs of zero and awkward numbers included', async () => {
    const csv = fresh('.csv'),
      points = fresh(),
      out = fresh('.parquet'),
      back = fresh();
    writeFileSync(
      csv,
      't_s,current_mA,voltage_V\n-5.1,0.1,12.6\n0.30000000000000004,1e-7,\n7,-123456.789,11.999999999\n8,0,12\n9,-0,12\n',
    );
    await importCsv(csv, points, { software: 'test', created_ms: 5, job: null });
    writeParquet(points, out, { personal: false });
    expect(await captureFromParquet(out, back)).toEqual({ samples: 5 });
    expect(all(back)).toEqual(all(points));
  });
});

describe('another program', () => {
  test('DuckDB counts and sums the same', async () => {
    const path = recorded(),
      out = fresh('.parquet');
    writeParquet(path, out, { personal: false });
    const found = all(path);
    const database = await DuckDBInstance.create(':memory:');
    const connection = await database.connect();
    const rows = async (sql: string) => (await connection.runAndReadAll(sql.replace('FILE', `'${out}'`))).getRowsJson();
    const counts = await rows('SELECT stream, run, count(*) FROM FILE GROUP BY ALL ORDER BY run, stream');
    expect(counts.map(([stream, run, count]) => [stream, run, Number(count)])).toEqual([
      ['raw', 1, RAW_LINES * 6],
      ['voltage', 1, 200],
      ['window', 1, WINDOWS],
      ['status', 3, 1],
      ['voltage', 3, 1],
      ['window', 3, 700],
    ]);
    const [[mean_uA, charge_nC, mAs]] = (await rows(
      "SELECT sum(mean_uA), max(charge_nC), sum(current_mA * dur_us) / 1e6 FROM FILE WHERE stream = 'window'",
    )) as [[string, string, number]];
    const windows = found.readings.map(({ windows: columns }) => columns);
    const sum = (values: ArrayLike<number>) => Array.from(values).reduce((total, value) => total + value, 0);
    expect(Number(mean_uA)).toBe(windows.reduce((total, columns) => total + sum(columns.mean_uA), 0));
    expect(charge_nC).toBe(String(2 ** 52 + (WINDOWS - 1) * 617));
    // 4 mOhm in place of 5 and 250 nV less: 1.25 times the current less 62.5 µA.
    expect(mAs).toBeCloseTo(
      windows.reduce(
        (total, columns) =>
          total + sum(columns.mean_uA.map((value, i) => (((value * 1.25 - 62.5) / 1000) * columns.dur_us[i]!) / 1e6)),
        0,
      ),
      6,
    );
    const [[units, last_us]] = (await rows("SELECT sum(units), max(t_us) FROM FILE WHERE stream = 'raw'")) as [
      [string, string],
    ];
    expect(Number(units)).toBe(
      found.lines.reduce((total, line) => total + sum(line.samples.map((sample) => sample.units)), 0),
    );
    expect(Number(last_us)).toBe(found.lines.at(-1)!.t_us);
    const [[cold, code]] = (await rows(
      "SELECT count(*) FILTER (stream = 'voltage' AND temp_mC IS NULL), max(code) FROM FILE",
    )) as [[string, string]];
    expect([Number(cold), code]).toEqual([1, 'bus-nack']);
    connection.closeSync();
    database.closeSync();
  });

  test('what is none of ours is refused with its reason', async () => {
    const text = fresh('.parquet');
    writeFileSync(text, 'no such thing');
    await expect(captureFromParquet(text, fresh())).rejects.toThrow(/is no Parquet file/);
    await expect(captureFromParquet(join(folder, 'none.parquet'), fresh())).rejects.toThrow(/does not exist/);
    const foreign = fresh('.parquet');
    const database = await DuckDBInstance.create(':memory:');
    const connection = await database.connect();
    await connection.run(`COPY (SELECT 1 AS t_s, 2 AS current_mA) TO '${foreign}' (FORMAT parquet)`);
    connection.closeSync();
    await expect(captureFromParquet(foreign, fresh())).rejects.toThrow(/was not written by 'nightdraw export'.*CSV/);
  });

  test('a damaged file is refused, or what is damaged in it is not needed', async () => {
    const csv = fresh('.csv'),
      path = fresh(),
      whole = fresh('.parquet');
    writeFileSync(
      csv,
      `t_s,current_mA\n${Array.from({ length: 300 }, (_, i) => `${i},${Math.sin(i) * 40}`).join('\n')}\n`,
    );
    await importCsv(csv, path, { software: 'test', created_ms: 5, job: null });
    writeParquet(path, whole, { personal: false });
    const bytes = readFileSync(whole);
    let refused = 0;
    for (let at = 100; at < 5000; at += 330) {
      const hurt = fresh('.parquet'),
        back = fresh(),
        copy = Buffer.from(bytes);
      copy[at]! ^= 0x10;
      writeFileSync(hurt, copy);
      try {
        await captureFromParquet(hurt, back);
        expect(all(back), `byte ${at}`).toEqual(all(path));
      } catch (error) {
        expect((error as Error).message, `byte ${at}`).toMatch(/is damaged|no Parquet file/);
        refused++;
      }
    }
    expect(refused).toBeGreaterThan(10);
  });
});
