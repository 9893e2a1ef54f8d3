// `analyse` of a 12-hour capture of windows from the shell, as a whole process, against
// a Node.js that does nothing, in the same run.

import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { nightOf, traceOf } from '../unit/analysis/night.ts';
import { median, timed_ms } from './figures.ts';
import type { Figure } from './figures.ts';
import { PROGRAM } from './serving.ts';
import { readingsOf, writeWindows } from './window-capture.ts';

const SEED = 11;
const HOURS = 12;
const ROUNDS = 7;

/** 1.5 bare processes and 300 ms are what the program may take: given as a share of that. */
const allowed_ms = (bare_ms: number): number => 1.5 * bare_ms + 300;

export async function shellFigures(): Promise<Figure[]> {
  const dir = mkdtempSync(join(tmpdir(), 'nightdraw-bench-'));
  try {
    const path = join(dir, 'night.nightdraw');
    const night = { ...nightOf('periodic', SEED), duration_s: HOURS * 3600 };
    await writeWindows(path, readingsOf(traceOf(night, { step_s: 0.05, windows: true, noise_mA: 0.1 }, SEED)));
    const shares: number[] = [],
      all_ms: number[] = [];
    for (let round = -1; round < ROUNDS; round++) {
      const bare_ms = await timed_ms(() => execFileSync(process.execPath, ['-e', '0']));
      const own_ms = await timed_ms(() => execFileSync(process.execPath, [PROGRAM, 'analyse', path]));
      if (round < 0) continue;
      shares.push(own_ms / allowed_ms(bare_ms));
      all_ms.push(own_ms);
    }
    console.log(`      (analyse of ${HOURS} h of windows: ${median(all_ms).toFixed(0)} ms from the shell)`);
    return [
      {
        name: 'analyse_shell_ratio',
        meaning: 'analyse of 12 h of windows from the shell, against 1.5 bare processes and 300 ms',
        value: median(shares),
        unit: 'times',
      },
    ];
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}
