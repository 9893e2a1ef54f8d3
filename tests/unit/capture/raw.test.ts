// Raw conversions in a capture: kept to the last bit in few bytes, placed and scaled by
// the formula of firmware/PROTOCOL.md, never lost and never counted twice beside windows.
import fc from 'fast-check';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { blockCrc } from '../../../host/capture/format/blocks.ts';
import {
  decodeRaw,
  encodeRaw,
  linesOfColumns,
  newRawColumns,
  rawCount,
} from '../../../host/capture/format/raw-blocks.ts';
import { openCapture } from '../../../host/capture/read/reader.ts';
import { MERGED_RAW } from '../../../host/capture/format/streams.ts';
import { CaptureWriter, createCapture } from '../../../host/capture/store/writer.ts';
import type { Hello, RawReading, Trace, WindowReading } from '../../../host/contract/capture.ts';

const folder = mkdtempSync(join(tmpdir(), 'nightdraw-raw-'));
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
  gain_ppm: 1000,
  offset_nV: 500,
  window_us: 50_000,
  stream: 'raw',
  speed: 1,
  trigger_uA: 20_000,
};

/** firmware/PROTOCOL.md, line R, in microamperes. */
const current_uA = (units: number) => ((625 * units - 8 * 500) * (1e6 + 1000)) / (8 * 5_000_000);

function backAndForth(lines: RawReading[]): RawReading[] {
  const data = encodeRaw(lines),
    columns = newRawColumns(rawCount(lines));
  decodeRaw(data, blockCrc(data), rawCount(lines), columns);
  return linesOfColumns(columns);
}

/** Conversions one millisecond apart, six in a line; conversion k is ready at (k + 1) ms. */
function rawLines(from: number, count: number, units: (k: number) => number): RawReading[] {
  const lines: RawReading[] = [];
  for (let k = from; k < from + count; k += 6) {
    const samples = Array.from({ length: Math.min(6, from + count - k) }, (_, i) => ({
      t_us: (k + i + 1) * 1000,
      units: units(k + i),
      flags: i + k === from ? 8 : 0,
    }));
    lines.push({ kind: 'raw', seq: k, t_us: samples.at(-1)!.t_us, samples });
  }
  return lines;
}

/** Windows of 50 conversions, from the same readings. */
function windowsOf(from: number, count: number, units: (k: number) => number): WindowReading[] {
  let charge_nC = 0;
  return Array.from({ length: from + count }, (_, i) => {
    const readings = Array.from({ length: 50 }, (_unused, k) => current_uA(units(i * 50 + k)));
    const mean_uA = Math.round(readings.reduce((sum, value) => sum + value, 0) / 50);
    charge_nC += mean_uA * 50;
    return {
      kind: 'window' as const,
      seq: i,
      t_us: (i + 1) * 50_000,
      dur_us: 50_000,
      count: 50,
      mean_uA,
      min_uA: Math.floor(Math.min(...readings)),
      max_uA: Math.ceil(Math.max(...readings)),
      charge_nC,
      flags: 0,
    };
  }).slice(from);
}

type Parts = { windows?: WindowReading[]; raw?: RawReading[] };

/** In transactions of half a second, as a recorder makes them. */
function capture(parts: Parts, finish = true) {
  const path = join(folder, `raw${files++}`);
  createCapture(path, { kind: 'recorded', software: 'test', created_ms: 0, axis_ms: 0, job: null, origin: null });
  const writer = new CaptureWriter(path);
  const run = writer.beginRun({ reason: 'start', hello, began_ms: 0 });
  const all = [...(parts.windows ?? []), ...(parts.raw ?? [])].sort((a, b) => a.t_us - b.t_us);
  const clock = [{ t_us: 0, axis_us: 0 }];
  for (let i = 0; i < all.length; i += 90) writer.commit({ run, readings: all.slice(i, i + 90), clock });
  if (finish) writer.finish();
  else writer.close();
  const opened = openCapture(path);
  const trace = opened.trace();
  return { path, opened, trace, t_s: trace.time.kind === 'listed' ? trace.time.t_s : new Float64Array(0) };
}

/** Charge of points by trapezoids and of windows by their lengths, gaps apart: mA s. */
function charge_mAs({ mean_mA, dur_s, time }: Trace): number {
  const t_s = time.kind === 'listed' ? time.t_s : new Float64Array(0);
  let sum = 0;
  for (let i = 0; i < mean_mA.length; i++) {
    if (dur_s !== null) sum += mean_mA[i]! * dur_s[i]!;
    else if (i > 0) sum += ((mean_mA[i]! + mean_mA[i - 1]!) / 2) * (t_s[i]! - t_s[i - 1]!);
  }
  return sum;
}

describe('blocks', () => {
  test('any lines come back as they were', () => {
    const sample = fc.record({
      step_us: fc.oneof(fc.constantFrom(1052, 1053), fc.integer({ min: 1, max: 1e9 })),
      units: fc.integer({ min: -(2 ** 21), max: 2 ** 21 }),
      flags: fc.integer({ min: 0, max: 15 }),
    });
    const line = fc.record({
      skip: fc.constantFrom(1, 1, 1, 2, 900),
      samples: fc.array(sample, { minLength: 1, maxLength: 6 }),
    });
    fc.assert(
      fc.property(
        fc.array(line, { minLength: 1, maxLength: 200 }),
        fc.integer({ min: 0, max: 2 ** 40 }),
        (parts, start_us) => {
          let seq = 0,
            t_us = start_us;
          const lines = parts.map(({ skip, samples }): RawReading => {
            const own = samples.map(({ step_us, units, flags }) => ({ t_us: (t_us += step_us), units, flags }));
            return { kind: 'raw', seq: (seq += skip), t_us, samples: own };
          });
          expect(backAndForth(lines)).toEqual(lines);
        },
      ),
      { numRuns: 60 },
    );
  });

  test('a flipped bit is found', () => {
    const lines = rawLines(0, 600, (k) => 1280 + (k % 7));
    const data = encodeRaw(lines),
      crc = blockCrc(data);
    data[40]! ^= 4;
    expect(() => decodeRaw(data, crc, 600, newRawColumns(600))).toThrow(/check value/);
  });
});

describe('a capture of the raw stream', () => {
  const units = (k: number) => 1280 + ((k * 7919) % 61);
  const count = MERGED_RAW * 2 + 5000;

  test.each([true, false])('is a trace of points at their instants (finished: %s)', (finish) => {
    const { opened, trace, t_s } = capture(
      { windows: windowsOf(0, Math.floor(count / 50), units), raw: rawLines(0, count, units) },
      finish,
    );
    const info = opened.info();
    expect(info).toMatchObject({ rawSamples: count, samples: count });
    expect(trace).toMatchObject({ kind: 'points', dur_s: null, gaps: [] });
    // The first point stands at the beginning of the first window, the conversions follow.
    expect(t_s.length - count).toBe(1);
    expect(t_s[0]).toBe(0);
    for (let k = 0; k < count; k++) {
      if (Math.abs(t_s[k + 1]! - (k + 1) / 1000) > 1e-9) throw new Error(`time of ${k}: ${t_s[k + 1]}`);
      if (
        trace.mean_mA[k + 1] !== Math.fround(current_uA(units(k)) / 1000) &&
        Math.abs(trace.mean_mA[k + 1]! - current_uA(units(k)) / 1000) > 1e-5
      )
        throw new Error(`value of ${k}`);
    }
    opened.close();
  });

  test('lines that are missing are filled by windows, and their charge is neither lost nor doubled', () => {
    const lines = rawLines(0, 60_000, units);
    const lost = lines.filter(({ t_us }) => t_us < 20_000_000 || t_us > 20_500_000);
    const whole = capture({ windows: windowsOf(0, 1200, units), raw: lines });
    const holed = capture({ windows: windowsOf(0, 1200, units), raw: lost });
    expect(holed.trace.kind).toBe('points');
    const expected = charge_mAs(whole.trace);
    expect(Math.abs(charge_mAs(holed.trace) / expected - 1)).toBeLessThan(1e-5);
    expect(
      Math.abs(expected / windowsOf(0, 1200, units).reduce((sum, w) => sum + (w.mean_uA / 1000) * 0.05, 0) - 1),
    ).toBeLessThan(1e-4);
    whole.opened.close();
    holed.opened.close();
  });

  test('that ran for a part only leaves the windows as the trace, and is seen as a waveform', () => {
    const windows = windowsOf(0, 1200, units),
      part = rawLines(12_000, 30_000, units);
    const { opened, trace } = capture({ windows, raw: part });
    expect(trace).toMatchObject({ kind: 'windows', gaps: [] });
    expect(charge_mAs(trace)).toBeCloseTo(
      windows.reduce((sum, w) => sum + (w.mean_uA / 1000) * 0.05, 0),
      6,
    );
    expect(opened.info()).toMatchObject({ samples: 1200, rawSamples: 30_000 });
    const waves = opened.waveforms(0, 60);
    expect(waves.map((wave) => wave.t_s.length)).toEqual([30_000]);
    opened.close();
  });
});

describe('bursts', () => {
  const quiet = 1280;
  /** A pulse of 4 ms in window 100: a window's mean hides it, its conversions do not. */
  const units = (k: number) => (k >= 5010 && k < 5014 ? 12_800 : quiet);
  const bursts = [...rawLines(4920, 500, units), ...rawLines(40_000, 120, units)];

  test('lie beside the windows and are read by time', () => {
    const { opened, trace } = capture({ windows: windowsOf(0, 1200, units), raw: bursts });
    expect(trace.kind).toBe('windows');
    const [first, second, ...more] = opened.waveforms(0, 60);
    expect(more).toEqual([]);
    expect([first!.t_s.length, second!.t_s.length]).toEqual([500, 120]);
    expect(first!.t_s[0]).toBeCloseTo(4.921, 9);
    expect([...first!.current_mA].filter((value) => value > 100).length).toBe(4);
    expect(opened.waveforms(5.01, 5.02)[0]!.t_s.length).toBeLessThanOrEqual(11);
    expect(opened.waveforms(20, 30)).toEqual([]);
    opened.close();
  });

  test('are in the overview where it is drawn that fine, and change no charge', () => {
    const { opened } = capture({ windows: windowsOf(0, 1200, units), raw: bursts });
    const near = opened.overview(5, 5.05, 50);
    // Four bins of a millisecond hold the pulse, and the bins beside them the quiet level.
    expect([...near.mean].filter((value) => value > 100).length).toBeGreaterThanOrEqual(4);
    expect([...near.mean].filter((value) => value < 25).length).toBeGreaterThanOrEqual(44);
    const seen = opened.overview(4, 7, 600).mean.reduce((sum, value) => sum + value * 0.005, 0);
    const true_mAs = Array.from({ length: 3000 }, (_, k) => current_uA(units(4000 + k)) / 1e6).reduce(
      (sum, value) => sum + value,
      0,
    );
    expect(Math.abs(seen / true_mAs - 1)).toBeLessThan(0.002);
    opened.close();
  });
});
