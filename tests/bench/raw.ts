// A raw night: 43.2 million conversions, twelve hours at one a millisecond, with their
// windows and voltages. Its size on disk, and how fast it is read into typed arrays
// against reading the file plainly, in the same run.

import { mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { writeImported } from '../../host/capture/exchange/import-draft.ts';
import { openCapture } from '../../host/capture/read/reader.ts';
import { HELLO } from './hello.ts';
import type { RawSample, Reading } from '../../host/contract/capture.ts';
import { normalFrom, randomFrom } from '../unit/analysis/night.ts';
import { median, timed_ms } from './figures.ts';
import type { Figure } from './figures.ts';

const SAMPLES = 43_200_000;
const PER_LINE = 6;
const PER_WINDOW = 48;
/**
 * 19 mA in 5 mOhm, and the noise of a conversion: two microvolts (tests/bench/capture.ts has the same in its extremes).
 */
const LEVEL_units = 1216;
const NOISE_units = 26;
const READS = 3;

/** What is asked for: 150 MB of samples a second, or half of the plain file's speed where that is less. */
const ASKED_MB_PER_S = 150;

/** A second of readings at a time. */
function* night(): Generator<Reading[]> {
  const normal = normalFrom(randomFrom(11));
  // Gaussian numbers are dear; a long table of them, walked with a step that shares no factor with it, is as rough.
  const noise = Int32Array.from({ length: 1 << 18 }, () => Math.round(NOISE_units * normal()));
  let charge_nC = 0,
    at = 0,
    seq = 0,
    voltage = 0,
    window = 0,
    began_us = 0;
  for (let k = 0; k < SAMPLES;) {
    const second: Reading[] = [];
    for (let line = 0; line < 1000 / PER_LINE && k < SAMPLES; line++) {
      const samples: RawSample[] = [];
      for (let i = 0; i < PER_LINE && k < SAMPLES; i++, k++) {
        // The resonator of a board that measures a conversion in 1000.4 of its microseconds.
        samples.push({
          t_us: Math.round((k + 1) * 1000.4),
          units: LEVEL_units + noise[(at = (at + 7919) & 0x3ffff)]!,
          flags: k === 0 ? 8 : 0,
        });
      }
      const { t_us } = samples[samples.length - 1]!;
      second.push({ kind: 'raw', seq: seq++, t_us, samples });
      if (k % PER_WINDOW !== 0) continue;
      const dur_us = t_us - began_us,
        mean_uA = 19_000 + (noise[at]! >> 1);
      charge_nC += Math.round((mean_uA * dur_us) / 1000);
      second.push({
        kind: 'window',
        seq: window++,
        t_us,
        dur_us,
        count: PER_WINDOW,
        mean_uA,
        min_uA: mean_uA - 900 - noise[(at - 1) & 0x3ffff]! * 5,
        max_uA: mean_uA + 900 + noise[(at - 2) & 0x3ffff]! * 5,
        charge_nC,
        flags: 0,
      });
      began_us = t_us;
    }
    second.push({
      kind: 'voltage',
      seq: voltage++,
      t_us: Math.round(k * 1000.4),
      bus_mV: 12_600 + (noise[at]! >> 4),
      temp_mC: 21_000,
      dropped: 0,
    });
    yield second;
  }
}

async function write(path: string): Promise<void> {
  await writeImported(
    path,
    { kind: 'recorded', software: 'bench', created_ms: 0, axis_ms: 0, job: null, origin: null },
    async (writer) => {
      const run = writer.beginRun({
        reason: 'start',
        hello: { ...HELLO, stream: 'raw', trigger_uA: 20_000 },
        began_ms: 0,
      });
      const clock = [
        { t_us: 0, axis_us: 0 },
        { t_us: 20e9, axis_us: 20.001e9 },
        { t_us: 40e9, axis_us: 40.003e9 },
      ];
      let readings: Reading[] = [];
      for (const second of night()) {
        readings.push(...second);
        if (readings.length < 20_000) continue;
        writer.commit({ run, readings, clock });
        readings = [];
      }
      writer.commit({ run, readings, clock });
      await Promise.resolve();
    },
  );
}

export async function rawFigures(): Promise<Figure[]> {
  const dir = mkdtempSync(join(tmpdir(), 'nightdraw-bench-'));
  try {
    const path = join(dir, 'raw.nightdraw');
    await write(path);
    const size = statSync(path).size;
    let bytes = 0;
    const read = () => {
      const capture = openCapture(path);
      const { time, mean_mA } = capture.trace();
      capture.close();
      if (time.kind !== 'listed' || mean_mA.length < SAMPLES)
        throw new Error(`${mean_mA.length} conversions came back of ${SAMPLES}`);
      bytes = time.t_s.byteLength + mean_mA.byteLength;
    };
    const plain_ms: number[] = [],
      read_ms: number[] = [];
    for (let i = 0; i < READS; i++) {
      plain_ms.push(await timed_ms(() => readFileSync(path)));
      read_ms.push(await timed_ms(read));
    }
    const speed_MB = bytes / 1e3 / median(read_ms),
      plain_MB = size / 1e3 / median(plain_ms);
    const asked_MB = Math.min(ASKED_MB_PER_S, plain_MB / 2);
    console.log(
      `      (${(size / 1e6).toFixed(0)} MB; read at ${speed_MB.toFixed(0)} MB/s of samples, ${(SAMPLES / 1e3 / median(read_ms)).toFixed(1)} million a second; the file plainly at ${plain_MB.toFixed(0)} MB/s)`,
    );
    return [
      {
        name: 'bytes_per_raw_sample',
        meaning: 'a raw night on disk, with everything in it',
        value: size / SAMPLES,
        unit: 'bytes',
      },
      {
        name: 'raw_read_ratio',
        meaning: 'speed that is asked of reading a raw night, against that reached',
        value: asked_MB / speed_MB,
        unit: 'times',
      },
    ];
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}
