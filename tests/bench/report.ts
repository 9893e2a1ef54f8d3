// `report` from the shell, as whole processes: of twelve hours of windows in seconds, and of
// 43.2 million samples against `analyse` of the same in the same run.

import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { nightOf, traceOf } from '../unit/analysis/night.ts';
import { median, ratioOf, timed_ms } from './figures.ts';
import type { Figure } from './figures.ts';
import { currents, HOURS, writeLongNight } from './long-night.ts';
import { PROGRAM } from './serving.ts';
import { readingsOf, writeWindows } from './window-capture.ts';

const SEED = 11;
const ROUNDS = 7;

export async function reportFigures(): Promise<Figure[]> {
  const dir = mkdtempSync(join(tmpdir(), 'nightdraw-bench-'));
  const run = (...args: string[]) => execFileSync(process.execPath, [PROGRAM, ...args], { stdio: 'pipe' });
  try {
    const [windows, long] = [join(dir, 'windows.nightdraw'), join(dir, 'long.nightdraw')];
    await writeWindows(
      windows,
      readingsOf(
        traceOf(
          { ...nightOf('periodic', SEED), duration_s: HOURS * 3600 },
          { step_s: 0.05, windows: true, noise_mA: 0.1 },
          SEED,
        ),
      ),
    );
    const figures: Figure[] = [];
    for (const format of ['pdf', 'html', 'png', 'svg']) {
      const all_ms: number[] = [];
      for (let round = -1; round < ROUNDS; round++) {
        const own_ms = await timed_ms(() => run('report', windows, '--out', join(dir, `r.${format}`)));
        if (round >= 0) all_ms.push(own_ms);
      }
      figures.push({
        name: `report_${format}_s`,
        meaning: `report of ${HOURS} h of windows as ${format.toUpperCase()}, whole process`,
        value: median(all_ms) / 1000,
        unit: 's',
      });
    }
    await writeLongNight(long, currents());
    const ratio = await ratioOf(
      () => run('report', long, '--out', join(dir, 'long.pdf')),
      () => run('analyse', long),
      5,
      1,
    );
    return [
      ...figures,
      {
        name: 'report_long_ratio',
        meaning: 'report (PDF) of 43.2 M samples, against analyse of the same',
        value: ratio,
        unit: 'times',
      },
    ];
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}
