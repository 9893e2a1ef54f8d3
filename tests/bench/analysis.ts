// Speed of the analysis on a 9-hour night of windows, against one plain pass
// (minimum, maximum and sum) over the same samples in the same run.

import { analyse } from '../../host/analysis/analyse.ts';
import { DEFAULT_OPTIONS } from '../../host/analysis/findings.ts';
import { nightOf, traceOf } from '../unit/analysis/night.ts';
import { ratioOf, timed_ms } from './figures.ts';
import type { Figure } from './figures.ts';

const SEED = 11;

export async function analysisFigures(): Promise<Figure[]> {
  const night = nightOf('periodic', SEED);
  const trace = traceOf(night, { step_s: 0.05, windows: true, noise_mA: 0.1 }, SEED);
  const samples = trace.mean_mA;
  let sink = 0;
  const plain = () => {
    // Twenty passes, since one is too short to time.
    for (let pass = 0; pass < 20; pass++) {
      let low = Infinity;
      let high = -Infinity;
      let sum = 0;
      for (let i = 0; i < samples.length; i++) {
        const x = samples[i]!;
        low = Math.min(low, x);
        high = Math.max(high, x);
        sum += x;
      }
      sink += low + high + sum;
    }
  };
  const value = 20 * (await ratioOf(() => analyse(trace, DEFAULT_OPTIONS), plain));
  const once_ms = await timed_ms(() => analyse(trace, DEFAULT_OPTIONS));
  if (!Number.isFinite(sink)) throw new Error('the plain pass met a value that is no number');
  console.log(`      (${samples.length} windows analysed in ${once_ms.toFixed(0)} ms)`);
  return [{ name: 'analyse_windows_ratio', meaning: 'analysis of a night of 50 ms windows, against one plain pass', value, unit: 'plain passes' }];
}
