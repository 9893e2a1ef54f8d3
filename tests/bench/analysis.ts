// Speed of the analysis on a 9-hour night of windows and on 12 hours at 1 kHz, against
// one plain pass (minimum, maximum and sum) over the same samples in the same run.

import { execFileSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { analyse } from '../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../host/contract/settings.ts';
import { nightOf, traceOf } from '../unit/analysis/night.ts';
import { ratioOf, timed_ms } from './figures.ts';
import type { Figure } from './figures.ts';
import { LONG_SAMPLES, LONG_STEPS, LONG_WAKEUPS, longNight } from './kilohertz.ts';
import type { Samples } from '../../host/contract/capture.ts';

const SEED = 11;

function plainPass(samples: Samples): number {
  let low = Infinity;
  let high = -Infinity;
  let sum = 0;
  for (let i = 0; i < samples.length; i++) {
    const x = samples[i]!;
    low = Math.min(low, x);
    high = Math.max(high, x);
    sum += x;
  }
  return low + high + sum;
}

/** In a process of its own: what other figures of this run need is not counted. */
function peakMemory(): number {
  const script = fileURLToPath(new URL('peak-memory.ts', import.meta.url));
  return Number(execFileSync(process.execPath, ['--import', 'tsx', script], { encoding: 'utf8' }));
}

async function longFigures(): Promise<Figure[]> {
  const trace = longNight(LONG_SAMPLES, false);
  let sink = 0;
  const long = await ratioOf(
    () => analyse(trace, DEFAULT_OPTIONS),
    () => (sink += plainPass(trace.mean_mA)),
    7,
    5,
  );
  const found = analyse(trace, DEFAULT_OPTIONS);
  if (found.wakeups.length !== LONG_WAKEUPS || found.steps.length !== LONG_STEPS) {
    throw new Error(
      `the long night shows ${found.wakeups.length} wake-ups and ${found.steps.length} steps, not ${LONG_WAKEUPS} and ${LONG_STEPS}`,
    );
  }
  const polled = longNight(LONG_SAMPLES / 4, true);
  const calm = longNight(LONG_SAMPLES / 4, false);
  const polling = await ratioOf(
    () => analyse(polled, DEFAULT_OPTIONS),
    () => analyse(calm, DEFAULT_OPTIONS),
  );
  const short = longNight(1_000_000, false);
  const perSample =
    (await ratioOf(
      () => analyse(trace, DEFAULT_OPTIONS),
      () => analyse(short, DEFAULT_OPTIONS),
    )) /
    (LONG_SAMPLES / 1_000_000);
  if (!Number.isFinite(sink)) throw new Error('the plain pass met a value that is no number');
  return [
    {
      name: 'analyse_long_ratio',
      meaning: 'analysis of 12 h at 1 kHz (43.2 million points), against one plain pass',
      value: long,
      unit: 'plain passes',
    },
    {
      name: 'analyse_memory_ratio',
      meaning: 'its whole process at its largest, against the array of its points',
      value: peakMemory(),
      unit: 'times',
    },
    {
      name: 'analyse_growth_ratio',
      meaning: 'time per sample at 43.2 million points, against 1 million',
      value: perSample,
      unit: 'times',
    },
    {
      name: 'analyse_polling_ratio',
      meaning: 'analysis of 3 h at 1 kHz with polling, against the same without',
      value: polling,
      unit: 'times',
    },
  ];
}

export async function analysisFigures(): Promise<Figure[]> {
  const night = nightOf('periodic', SEED);
  const trace = traceOf(night, { step_s: 0.05, windows: true, noise_mA: 0.1 }, SEED);
  const samples = trace.mean_mA;
  let sink = 0;
  const plain = () => {
    // Twenty passes, since one is too short to time.
    for (let pass = 0; pass < 20; pass++) sink += plainPass(samples);
  };
  const value = 20 * (await ratioOf(() => analyse(trace, DEFAULT_OPTIONS), plain));
  const once_ms = await timed_ms(() => analyse(trace, DEFAULT_OPTIONS));
  if (!Number.isFinite(sink)) throw new Error('the plain pass met a value that is no number');
  console.log(`      (${samples.length} windows analysed in ${once_ms.toFixed(0)} ms)`);
  return [
    {
      name: 'analyse_windows_ratio',
      meaning: 'analysis of a night of 50 ms windows, against one plain pass',
      value,
      unit: 'plain passes',
    },
    ...(await longFigures()),
  ];
}
