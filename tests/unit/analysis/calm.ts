// Nights in which nothing wakes the car, and nights with one reading that does, with their truth: noise
// that grows with the current, a current that swings slowly, samples without any noise. No source: invented.

import type { Trace } from '../../../host/contract/capture.ts';
import type { VerdictCode } from '../../../host/contract/findings.ts';
import { normalFrom, randomFrom } from './night.ts';

export const CALM = ['noise with the current', 'slow swing', 'one reading'] as const;
export type Calm = (typeof CALM)[number];

export interface CalmNight {
  said: string;
  trace: Trace;
  /** Starts of steps, and of wake-ups, s; each to be found within `within_s`. */
  steps_s: number[];
  wakeUps_s: number[];
  within_s: number;
  /** What the verdict may be. */
  codes: VerdictCode[];
}

const pointsOf = (mean_mA: Float64Array, step_s: number): Trace => ({
  kind: 'points',
  start_ms: null,
  time: { kind: 'regular', step_s },
  dur_s: null,
  mean_mA,
  min_mA: null,
  max_mA: null,
  gaps: [],
});

/**
 * noise with the current: 2 to 4 levels down to 12 to 40 mA, each 0.25 to 0.6 of the one before, in 2 h of
 * points every 0.1, 1 or 5 s; noise of 1 to 6 % of the current. slow swing: 5 h of points every second, 80 to
 * 400 mA up and down in 10 to 150 min. one reading: 200 to 3000 rows of 10 to 40 mA every 1 to 10 s without
 * noise, one of them 100 to 900 mA higher.
 */
export function calmNight(kind: Calm, seed: number): CalmNight {
  const random = randomFrom(seed * 9301 + 49297 * CALM.indexOf(kind));
  const between = (low: number, high: number) => low + (high - low) * random();
  const normal = normalFrom(randomFrom(seed + 77));
  if (kind === 'slow swing') {
    const height_mA = between(80, 400),
      period_s = between(600, 9000),
      phase = between(0, 2 * Math.PI),
      middle_mA = height_mA / 2 + between(10, 60);
    const at = (t_s: number) => middle_mA + (height_mA / 2) * Math.sin((2 * Math.PI * t_s) / period_s + phase);
    return {
      said: `${kind}, seed ${seed}: ${height_mA.toFixed(0)} mA in ${period_s.toFixed(0)} s`,
      trace: pointsOf(
        Float64Array.from({ length: 5 * 3600 }, (_, i) => at(i) + 0.3 * normal()),
        1,
      ),
      steps_s: [],
      wakeUps_s: [],
      within_s: 1,
      codes: ['awake'],
    };
  }
  if (kind === 'one reading') {
    const rows = 200 + Math.floor(2800 * random()),
      step_s = between(1, 10),
      level_mA = between(10, 40),
      row = 60 + Math.floor((rows - 120) * random());
    const height_mA = between(100, 900);
    return {
      said: `${kind}, seed ${seed}: row ${row} of ${rows} every ${step_s.toFixed(1)} s, ${height_mA.toFixed(0)} mA over ${level_mA.toFixed(1)}`,
      trace: pointsOf(
        Float64Array.from({ length: rows }, (_, i) => level_mA + (i === row ? height_mA : 0)),
        step_s,
      ),
      steps_s: [],
      wakeUps_s: [row * step_s],
      within_s: 0.01,
      codes: ['short', 'within'],
    };
  }
  const step_s = [0.1, 1, 5][seed % 3]!,
    share = between(0.01, 0.06),
    levels = 2 + Math.floor(3 * random());
  const stairs: { t_s: number; level_mA: number }[] = [];
  for (let i = levels, level_mA = between(12, 40); i >= 0; i--, level_mA /= between(0.25, 0.6))
    stairs.unshift({ t_s: 0, level_mA });
  for (let i = 1, t_s = 0; i < stairs.length; i++) stairs[i]!.t_s = t_s += between(200, 700);
  let k = 0;
  const mean_mA = Float64Array.from({ length: Math.floor(7200 / step_s) }, (_, i) => {
    while (k + 1 < stairs.length && stairs[k + 1]!.t_s <= i * step_s) k++;
    return stairs[k]!.level_mA * (1 + share * normal());
  });
  return {
    said: `${kind}, seed ${seed}: ${(100 * share).toFixed(1)} % every ${step_s} s, ${stairs.map(({ t_s, level_mA }) => `${level_mA.toFixed(0)} mA from ${t_s.toFixed(0)} s`).join(', ')}`,
    trace: pointsOf(mean_mA, step_s),
    steps_s: stairs.slice(1).map(({ t_s }) => t_s),
    wakeUps_s: [],
    within_s: Math.max(3 * step_s, 3),
    codes: ['within'],
  };
}
