// Nights with a load that is on in every second or third reading, many times as high as the steps under it and
// about as high as the wake-ups among it, with their truth. No source: invented.

import type { Trace } from '../../../host/contract/capture.ts';
import type { Findings } from '../../../host/contract/findings.ts';
import { normalFrom, randomFrom } from './night.ts';

export const BLINKS = ['in step', 'straying', 'at random'] as const;
export type Blink = (typeof BLINKS)[number];

/** Most that a step may be off, and the ends of a wake-up: what changes while the load is on is hidden. */
const STEP_S = 5;
const WAKE_S = 5;

export interface BlinkNight {
  said: string;
  trace: Trace;
  steps_s: number[];
  wakeUps: { start_s: number; end_s: number }[];
}

/**
 * 6 h of points at 1 Hz: 20 to 60 mA, a circuit of 6 to 15 mA that comes and goes every 15 to 50 min, and wake-ups
 * of 40 to 150 s as high as the blinks or up to half more; the blinks are 7 to 12 times as high as the steps. In
 * step: on in every second or third reading. Straying: pauses of one to three readings. At random: in each reading
 * with one chance in two or three.
 */
export function blinkNight(kind: Blink, seed: number): BlinkNight {
  const random = randomFrom(seed * 6007 + 83 * BLINKS.indexOf(kind));
  const normal = normalFrom(randomFrom(seed + 500));
  const between = (low: number, high: number) => low + (high - low) * random();
  const count = 6 * 3600;
  const every = random() < 0.5 ? 2 : 3;
  const step_mA = between(6, 15),
    blink_mA = step_mA * between(7, 12),
    level_mA = between(20, 60),
    noise_mA = between(0.1, 1);
  const steps_s: number[] = [];
  for (let t = Math.floor(between(900, 2400)); t < count - 900; t += Math.floor(between(900, 3000))) steps_s.push(t);
  const wakeUps: { start_s: number; end_s: number; height_mA: number }[] = [];
  for (let t = Math.floor(between(600, 1500)); t < count - 600; t += Math.floor(between(1200, 4000))) {
    const wake = { start_s: t, end_s: t + Math.floor(between(40, 150)), height_mA: blink_mA * between(1, 1.5) };
    if (steps_s.every((step_s) => Math.abs(step_s - t) > 300)) wakeUps.push(wake);
  }
  const mean_mA = new Float64Array(count);
  let now_mA = level_mA;
  let [step, wake, next] = [0, 0, 0];
  for (let i = 0; i < count; i++) {
    if (steps_s[step] === i) now_mA += step++ % 2 === 0 ? step_mA : -step_mA;
    while (wake < wakeUps.length && wakeUps[wake]!.end_s <= i) wake++;
    const awake_mA = (wakeUps[wake]?.start_s ?? Infinity) <= i ? wakeUps[wake]!.height_mA : 0;
    let on = false;
    if (kind === 'at random') on = random() < 1 / every;
    else if (i === next) {
      on = true;
      next += kind === 'in step' ? every : 2 + Math.floor(3 * random());
    }
    mean_mA[i] = now_mA + awake_mA + (on ? blink_mA : 0) + noise_mA * normal();
  }
  return {
    said: `${kind}, seed ${seed}: ${blink_mA.toFixed(0)} mA, one in ${every}, steps of ${step_mA.toFixed(1)} mA, noise ${noise_mA.toFixed(2)} mA`,
    trace: {
      kind: 'points',
      start_ms: null,
      time: { kind: 'regular', step_s: 1 },
      dur_s: null,
      mean_mA,
      min_mA: null,
      max_mA: null,
      gaps: [],
    },
    steps_s,
    wakeUps,
  };
}

/** Steps and wake-ups found, missed, and how many more were told. */
export function scoreOf({ steps_s, wakeUps }: BlinkNight, found: Findings): Record<'hit' | 'missed' | 'extra', number> {
  const steps = steps_s.filter((t_s) => found.steps.some((step) => Math.abs(step.t_s - t_s) <= STEP_S)).length;
  const wakes = wakeUps.filter(({ start_s, end_s }) =>
    found.wakeups.some((w) => Math.abs(w.start_s - start_s) <= WAKE_S && Math.abs(w.end_s - end_s) <= WAKE_S),
  ).length;
  const hit = steps + wakes;
  return { hit, missed: steps_s.length + wakeUps.length - hit, extra: found.steps.length + found.wakeups.length - hit };
}
