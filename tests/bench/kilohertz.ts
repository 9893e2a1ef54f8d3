// The largest night that the bench knows: 12 hours at 1 kHz, as typed arrays.

import { normalFrom, randomFrom } from '../unit/analysis/night.ts';
import type { Trace } from '../../host/contract/capture.ts';

const SEED = 11;

export const LONG_SAMPLES = 43_200_000;
export const LONG_STEPS = 30;
export const LONG_WAKEUPS = 200;

/**
 * Points at 1 kHz with 1 mA of noise; in 12 h there are 30 steps and 200 wake-ups of 5 s. With `polling`, 8 ms of 60 mA
 * each 280 ms.
 */
export function longNight(samples: number, polling: boolean): Trace {
  const random = randomFrom(SEED);
  const normal = normalFrom(random);
  const noise = Float32Array.from({ length: 1 << 16 }, () => normal());
  const mA = new Float32Array(samples);
  const perStep = Math.ceil(LONG_SAMPLES / (LONG_STEPS + 1));
  const perWakeup = LONG_SAMPLES / LONG_WAKEUPS;
  for (let i = 0; i < samples; i++) {
    // A fresh offset each time round the table, so that the noise keeps no period.
    const draw = noise[(i + (i >>> 16) * 7919) & 0xffff]!;
    const level = 20 + (Math.floor(i / perStep) % 2) * 12 + (i < perStep ? 400 : 0);
    const into = i % perWakeup;
    const woken = into > perWakeup / 2 && into < perWakeup / 2 + 5000 ? 300 : 0;
    mA[i] = level + woken + draw + (polling && i % 280 < 8 ? 60 : 0);
  }
  return {
    kind: 'points',
    start_ms: null,
    time: { kind: 'regular', step_s: 0.001 },
    dur_s: null,
    mean_mA: mA,
    min_mA: null,
    max_mA: null,
    gaps: [],
  };
}
