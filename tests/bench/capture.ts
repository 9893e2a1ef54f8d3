// Size of a 12-hour capture of windows on disk, and the time to open it and read
// its whole overview against the time to read the file plainly, in the same run.

import { mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openCapture } from '../../host/capture/read/reader.ts';
import type { WindowReading } from '../../host/contract/capture.ts';
import { normalFrom, randomFrom } from '../unit/analysis/night.ts';
import { median, ratioOf, timed_ms } from './figures.ts';
import type { Figure } from './figures.ts';
import { writeWindows } from './window-capture.ts';

const WINDOWS = 12 * 3600 * 20;
const BINS = 1280;
/** Noise of a window's mean and of its extremes as the sense chip's effective bits give them, µA. */
const MEAN_NOISE_uA = 58;
const EXTREME_uA = 900;
const EXTREME_NOISE_uA = 190;

function* night(): Generator<WindowReading> {
  const normal = normalFrom(randomFrom(7));
  let charge_nC = 0;
  let t_us = 0;
  for (let seq = 0; seq < WINDOWS; seq++) {
    // Conversions of 1053.4 µs do not divide the window, so that lengths alternate.
    const before_us = t_us;
    t_us = Math.round(Math.ceil(((seq + 1) * 50_000) / 1053.4) * 1053.4);
    const dur_us = t_us - before_us;
    const mean_uA = Math.round(19_000 + MEAN_NOISE_uA * normal());
    charge_nC += Math.round((mean_uA * dur_us) / 1000);
    yield {
      kind: 'window',
      seq,
      t_us,
      dur_us,
      count: Math.round(dur_us / 1053.4),
      mean_uA,
      charge_nC,
      flags: 0,
      min_uA: Math.round(mean_uA - EXTREME_uA + EXTREME_NOISE_uA * normal()),
      max_uA: Math.round(mean_uA + EXTREME_uA + EXTREME_NOISE_uA * normal()),
    };
  }
}

export async function captureFigures(): Promise<Figure[]> {
  const dir = mkdtempSync(join(tmpdir(), 'nightdraw-bench-'));
  try {
    const path = join(dir, 'night.nightdraw');
    await writeWindows(path, night());
    const openAndLook = () => {
      const capture = openCapture(path);
      const seen = capture.overview(0, 12 * 3600, BINS);
      if (seen.mean.length !== BINS) throw new Error(`the overview has ${seen.mean.length} bins, not ${BINS}`);
      capture.close();
    };
    const openAll = () => {
      const capture = openCapture(path);
      if (capture.trace().mean_mA.length !== WINDOWS) throw new Error('windows are missing');
      capture.close();
    };
    const overview = await ratioOf(openAndLook, () => readFileSync(path));
    const whole = await ratioOf(openAll, () => readFileSync(path));
    const looks_ms: number[] = [];
    for (let i = 0; i < 5; i++) looks_ms.push(await timed_ms(openAndLook));
    console.log(`      (opened and looked over in ${median(looks_ms).toFixed(1)} ms)`);
    return [
      {
        name: 'bytes_per_window',
        meaning: '12 h of windows on disk, with everything in it',
        value: statSync(path).size / WINDOWS,
        unit: 'bytes',
      },
      {
        name: 'overview_ratio',
        meaning: 'opening and reading the whole overview, against reading the file plainly',
        value: overview,
        unit: 'times',
      },
      {
        name: 'read_all_ratio',
        meaning: 'opening and reading every window, against reading the file plainly',
        value: whole,
        unit: 'times',
      },
    ];
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}
