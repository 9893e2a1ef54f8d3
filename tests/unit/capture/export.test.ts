// Out and back: CSV and JSON equal to the last digit, cells that no spreadsheet takes
// for a formula, and what names people gone from every byte.
import fc from 'fast-check';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { addMark, forgetPrivate } from '../../../host/capture/store/amend.ts';
import { importCsv } from '../../../host/capture/exchange/csv.ts';
import { csvLines, textCell } from '../../../host/capture/exchange/export-csv.ts';
import { captureAsJson, captureFromJson } from '../../../host/capture/exchange/export-json.ts';
import { openTrace } from '../../../host/night/open.ts';
import { openCapture } from '../../../host/capture/read/reader.ts';
import type { Hello, WindowReading } from '../../../host/contract/capture.ts';
import { CaptureWriter, createCapture } from '../../../host/capture/store/writer.ts';

const folder = mkdtempSync(join(tmpdir(), 'nightdraw-export-'));
afterAll(() => rmSync(folder, { recursive: true }));
let files = 0;
const fresh = (end = '') => join(folder, `file${files++}${end}`);

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

function windows(count: number): WindowReading[] {
  return Array.from({ length: count }, (_, i) => ({
    kind: 'window',
    seq: i,
    t_us: (i + 1) * 50_011,
    dur_us: 50_011,
    count: 47,
    mean_uA: 12_345 + ((i * 7919) % 977),
    min_uA: -3,
    max_uA: 99_999,
    charge_nC: i * 617,
    flags: i % 4,
  }));
}

function recorded(): string {
  const path = fresh();
  createCapture(path, {
    kind: 'recorded',
    software: 'test',
    created_ms: 5,
    axis_ms: 1e12,
    job: 'J-1 Gray',
    origin: { seed: 4 },
    personal: { plate: 'ND 0451', customer: 'Gray' },
  });
  const writer = new CaptureWriter(path);
  const clock = [
    { t_us: 0, axis_us: 250_000.25 },
    { t_us: 60e6, axis_us: 60.3e6 },
  ];
  const run = writer.beginRun({ reason: 'start', hello, began_ms: 1e12 });
  const all = windows(9000);
  writer.commit({ run, readings: all.slice(0, 5000), clock });
  writer.commit({
    run,
    readings: all.slice(5100),
    clock,
    badLines: [{ wall_ms: 7, reason: 'wrong check code', line: 'W 1 \u00ff' }],
    badLineCount: 3,
  });
  for (let seq = 0; seq < 400; seq++)
    writer.commit({
      run,
      readings: [{ kind: 'voltage', seq, t_us: seq * 1e6 + 5, bus_mV: 12_600 - seq, temp_mC: 21_000, dropped: 0 }],
    });
  const second = writer.beginRun({ reason: 'boot', hello: { ...hello, boot: 4 }, began_ms: 1e12 + 600_000 });
  writer.commit({
    run: second,
    readings: [...all.slice(0, 700), { kind: 'status', seq: 0, t_us: 99, code: 'bus-nack', detail: 4 }],
    clock: [{ t_us: 0, axis_us: 600e6 }],
  });
  writer.finish();
  addMark(path, 12.5, '=cmd|door, "driver"');
  return path;
}

function all(path: string) {
  const capture = openCapture(path);
  const result = {
    info: { ...capture.info(), path: '' },
    trace: capture.trace(),
    voltage: capture.voltage(),
    statuses: capture.statuses(),
    readings: capture.readings(),
    axis_ms: capture.axis_ms(),
  };
  capture.close();
  return result;
}

describe('JSON', () => {
  test('a recorded capture comes back equal in everything but what names people', async () => {
    const path = recorded(),
      back = fresh();
    const text = captureAsJson(path);
    expect(text).not.toMatch(/ND 0451/);
    expect(await captureFromJson(text, 'x.json', back)).toEqual({ samples: 9600 });
    expect(all(back)).toEqual(all(path));
    expect(captureAsJson(back)).toBe(text);
  });

  test('imported points too, blank cells and awkward numbers included', async () => {
    const csv = fresh('.csv'),
      path = fresh(),
      back = fresh();
    writeFileSync(
      csv,
      't_s,current_mA,voltage_V\n-5.1,0.1,12.6\n0.30000000000000004,1e-7,\n7,-123456.789,11.999999999\n',
    );
    await importCsv(csv, path, { software: 'test', created_ms: 5, job: null });
    await captureFromJson(captureAsJson(path), 'x.json', back);
    expect(all(back)).toEqual(all(path));
  });

  test('what is none is refused with its reason', async () => {
    await expect(captureFromJson('{', 'x.json', fresh())).rejects.toThrow(/x\.json is no JSON/);
    await expect(captureFromJson('{"format":"nightdraw capture 9"}', 'x.json', fresh())).rejects.toThrow(
      /its format: nightdraw capture 9/,
    );
    const broken = JSON.parse(captureAsJson(recorded())) as { runs: { windows: { seq: number[] } }[] };
    broken.runs[0]!.windows.seq.pop();
    await expect(captureFromJson(JSON.stringify(broken), 'x.json', fresh())).rejects.toThrow(
      /columns of a run differ in length/,
    );
  });
});

describe('CSV', () => {
  async function around(path: string): Promise<void> {
    const before = await openTrace(path);
    const csv = fresh('.csv'),
      back = fresh();
    writeFileSync(csv, [...csvLines(before.trace, before.voltage, before.info!.marks)].join(''));
    await importCsv(csv, back, { software: 'test', created_ms: 5, job: null });
    const after = await openTrace(back);
    const t_s = (trace: typeof before.trace) => (trace.time.kind === 'listed' ? [...trace.time.t_s] : []);
    const [times, exact] = [t_s(after.trace), t_s(before.trace)];
    expect(times.length).toBe(exact.length);
    expect(exact.every((t, i) => Math.abs(times[i]! - t) <= 0.5001e-6)).toBe(true);
    for (const key of ['mean_mA', 'min_mA', 'max_mA'] as const)
      expect([...after.trace[key]!]).toEqual([...before.trace[key]!]);
    expect(after.voltage!.voltage_V.length).toBeGreaterThan(300);
  }

  test('every current comes back bit for bit, every time to the microsecond', () => around(recorded()));

  /** Times as they are written for points at these. */
  const timesOf = (t_s: number[]) =>
    [
      ...csvLines(
        {
          kind: 'points',
          start_ms: null,
          time: { kind: 'listed', t_s: Float64Array.from(t_s) },
          dur_s: null,
          mean_mA: Float64Array.from(t_s, () => 1),
          min_mA: null,
          max_mA: null,
          gaps: [],
        },
        null,
        [],
      ),
    ]
      .slice(1)
      .map((line) => line.split(',')[0]);

  test('no time has more than six decimals, and none is lost where readings stand closer', () => {
    const capture = openCapture(recorded());
    const rows = [...csvLines(capture.trace(), null, [])].slice(1).map((line) => line.split(','));
    capture.close();
    for (const [t_s, dur_s] of rows) {
      expect(t_s).toMatch(/^\d+(\.\d{1,6})?$/);
      expect(dur_s).toMatch(/^\d+(\.\d{1,6})?$/);
    }
    expect(timesOf([0, 0.1 + 0.2, 2.0000004])).toEqual(['0', '0.3', '2']);
    expect(timesOf([0, 2.5e-7, 5e-7])).toEqual(['0', '2.5e-7', '5e-7']);
  });

  test('any number comes back', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ noNaN: true, noDefaultInfinity: true }), { minLength: 1, maxLength: 20 }),
        (values) => {
          const mean_mA = Float64Array.from(values, (value) => (value === 0 ? 0 : value));
          const lines = [
            ...csvLines(
              {
                kind: 'points',
                start_ms: null,
                time: { kind: 'regular', step_s: 1 },
                dur_s: null,
                mean_mA,
                min_mA: null,
                max_mA: null,
                gaps: [],
              },
              null,
              [],
            ),
          ];
          expect(lines.slice(1).map((line) => Number(line.split(',')[1]))).toEqual([...mean_mA]);
        },
      ),
    );
  });

  test('text that begins like a formula is made harmless, numbers are not', () => {
    expect(['=1+1', '+41', '-x', '@a', '\tx', 'plain', 'a,b', 'say "x"', "'"].map(textCell)).toEqual([
      "'=1+1",
      "'+41",
      "'-x",
      "'@a",
      "'\tx",
      'plain',
      '"a,b"',
      '"say ""x"""',
      "'",
    ]);
    const path = recorded();
    const capture = openCapture(path);
    const lines = [...csvLines(capture.trace(), capture.voltage(), capture.info().marks)];
    capture.close();
    expect(lines[0]).toBe('t_s,dur_s,current_mA,min_mA,max_mA,voltage_V,mark\n');
    expect(lines.filter((line) => line.includes('cmd'))).toEqual([
      expect.stringContaining('"\'=cmd|door, ""driver"""') as string,
    ]);
    expect(lines[1]).toContain(',-0.003,');
  });
});

describe('what names people', () => {
  test('is in no other output, and one command takes it out of every byte', () => {
    const path = recorded();
    const bytes = () => readFileSync(path, 'latin1');
    const capture = openCapture(path);
    expect(capture.personal()).toEqual({ plate: 'ND 0451', customer: 'Gray' });
    expect(JSON.stringify(capture.info())).not.toMatch(/ND 0451/);
    capture.close();
    expect(bytes()).toMatch(/ND 0451/);
    const readings = all(path).readings;
    expect(forgetPrivate(path)).toEqual(['job', 'plate', 'customer', 'marks']);
    expect(bytes()).not.toMatch(/ND 0451|Gray|driver/);
    expect(all(path).readings).toEqual(readings);
    expect(forgetPrivate(path)).toEqual([]);
  });

  test('a mark outside the recording is refused', () => {
    expect(() => addMark(recorded(), 1e6, 'x')).toThrow(
      /a mark at 1000000 s lies outside the recording, which is \d+\.\d s long/,
    );
  });
});
