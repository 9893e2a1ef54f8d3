// Simulated nights with known truth, for the analysis alone: a staircase of levels
// with wake-ups on top, drawn as exact breakpoints and then sampled. Written apart from
// the emulated car, so that neither can hide the other's mistakes. No source: invented.

import type { Trace } from '../../../host/contract/capture.ts';

/** Mulberry32: a small seeded generator, by T. Ettinger, public domain; written from memory. */
export function randomFrom(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let z = state;
    z = Math.imul(z ^ (z >>> 15), z | 1);
    z ^= z + Math.imul(z ^ (z >>> 7), z | 61);
    return ((z ^ (z >>> 14)) >>> 0) / 4294967296;
  };
}

/** Normal deviates by the Box-Muller transform (1958). */
export function normalFrom(random: () => number): () => number {
  let spare: number | null = null;
  return () => {
    if (spare !== null) {
      const value = spare;
      spare = null;
      return value;
    }
    const radius = Math.sqrt(-2 * Math.log(1 - random()));
    const angle = 2 * Math.PI * random();
    spare = radius * Math.sin(angle);
    return radius * Math.cos(angle);
  };
}

/** From `t_s` on the base is `level_mA`. */
export interface Landing {
  t_s: number;
  level_mA: number;
}

/** Adds `height_mA` to the base from `start_s` to `end_s`. */
export interface Burst {
  start_s: number;
  end_s: number;
  height_mA: number;
}

export interface Plan {
  duration_s: number;
  /** First one at 0. */
  base: Landing[];
  bursts: Burst[];
}

/** The current as breakpoints: `mA[i]` from `t_s[i]` to `t_s[i + 1]`. */
export interface Course {
  t_s: Float64Array;
  mA: Float64Array;
  duration_s: number;
}

export function courseOf(plan: Plan): Course {
  const changes: { t_s: number; by_mA: number }[] = [];
  plan.base.forEach((landing, i) =>
    changes.push({ t_s: landing.t_s, by_mA: landing.level_mA - (plan.base[i - 1]?.level_mA ?? 0) }),
  );
  for (const { start_s, end_s, height_mA } of plan.bursts) {
    changes.push({ t_s: start_s, by_mA: height_mA }, { t_s: end_s, by_mA: -height_mA });
  }
  changes.sort((a, b) => a.t_s - b.t_s);
  let mA = 0;
  const levels = changes.map((change) => (mA += change.by_mA));
  return { t_s: Float64Array.from(changes, (c) => c.t_s), mA: Float64Array.from(levels), duration_s: plan.duration_s };
}

export interface Sampling {
  /** Window length, or spacing of points. */
  step_s: number;
  windows: boolean;
  noise_mA: number;
  /** Smallest change that the data show; 0 for fine. */
  resolution_mA?: number;
  /** Added to the current, mA. */
  drift?: (t_s: number) => number;
}

const empty = (seed: number) => normalFrom(randomFrom(seed ^ 0x5eed));

function quantise(value: number, resolution: number): number {
  return resolution > 0 ? Math.round(value / resolution) * resolution : value;
}

export function pointsOf(course: Course, sampling: Sampling, seed: number): Trace {
  const normal = empty(seed);
  const { step_s, noise_mA, resolution_mA = 0, drift } = sampling;
  const count = Math.floor(course.duration_s / step_s) + 1;
  const mean_mA = new Float64Array(count);
  let k = 0;
  for (let i = 0; i < count; i++) {
    const t = i * step_s;
    while (k + 1 < course.t_s.length && course.t_s[k + 1]! <= t) k++;
    mean_mA[i] = quantise(course.mA[k]! + (drift?.(t) ?? 0) + noise_mA * normal(), resolution_mA);
  }
  return {
    kind: 'points',
    start_ms: null,
    time: { kind: 'regular', step_s },
    dur_s: null,
    mean_mA,
    min_mA: null,
    max_mA: null,
    gaps: [],
  };
}

/** Windows of the mean of 50 noisy conversions, with their range; `noise_mA` is the noise of the mean. */
export function windowsOf(course: Course, sampling: Sampling, seed: number): Trace {
  const normal = empty(seed);
  const { step_s, noise_mA, resolution_mA = 0, drift } = sampling;
  const count = Math.floor(course.duration_s / step_s + 1e-9);
  const mean_mA = new Float32Array(count);
  const min_mA = new Float32Array(count);
  const max_mA = new Float32Array(count);
  // Expected extreme of 50 normal values is 2.25 sigma, spread 0.47 sigma (order statistics, from memory).
  const single = noise_mA * Math.sqrt(50);
  let k = 0;
  for (let i = 0; i < count; i++) {
    const from = i * step_s;
    const to = from + step_s;
    while (k + 1 < course.t_s.length && course.t_s[k + 1]! <= from) k++;
    let area = 0;
    let low = Infinity;
    let high = -Infinity;
    let at = from;
    for (let n = k; at < to; n++) {
      const end = n + 1 < course.t_s.length ? Math.min(to, course.t_s[n + 1]!) : to;
      if (end > at) {
        low = Math.min(low, course.mA[n]!);
        high = Math.max(high, course.mA[n]!);
        area += (end - at) * course.mA[n]!;
        at = end;
      }
    }
    const shift = drift?.(from) ?? 0;
    const mean = area / step_s + shift + noise_mA * normal();
    mean_mA[i] = quantise(mean, resolution_mA);
    min_mA[i] = quantise(Math.min(mean, low + shift - single * (2.25 + 0.47 * normal())), resolution_mA);
    max_mA[i] = quantise(Math.max(mean, high + shift + single * (2.25 + 0.47 * normal())), resolution_mA);
  }
  const dur_s = new Float32Array(count).fill(step_s);
  return {
    kind: 'windows',
    start_ms: null,
    time: { kind: 'regular', step_s },
    dur_s,
    mean_mA,
    min_mA,
    max_mA,
    gaps: [],
  };
}

export function traceOf(plan: Plan, sampling: Sampling, seed: number): Trace {
  const course = courseOf(plan);
  return sampling.windows ? windowsOf(course, sampling, seed) : pointsOf(course, sampling, seed);
}

export const KINDS = ['quiet', 'steady', 'periodic', 'random', 'latch', 'spells', 'unsettled', 'small'] as const;
export type Kind = (typeof KINDS)[number];

export interface Night extends Plan {
  kind: Kind;
  asleep: { after_s: number; level_mA: number } | null;
  /** Period of the wake-ups, where they keep one. */
  period_s: number | null;
}

/** A descending staircase of three to five landings; ends at `asleep_s` on `asleep_mA`. */
function staircase(random: () => number, asleep_s: number, asleep_mA: number): Landing[] {
  const landings = 2 + Math.floor(random() * 3);
  const base: Landing[] = [];
  let level_mA = 800 + 3000 * random();
  for (let i = 0; i < landings; i++) {
    base.push({
      t_s: i === 0 ? 0 : (asleep_s * (i - 0.3 + 0.6 * random())) / landings,
      level_mA: asleep_mA + level_mA,
    });
    level_mA *= 0.15 + 0.5 * random();
  }
  base.push({ t_s: asleep_s, level_mA: asleep_mA });
  return base;
}

function spread(from_s: number, to_s: number, gap_s: () => number, burst: (start_s: number) => Burst): Burst[] {
  const bursts: Burst[] = [];
  for (let t = from_s + gap_s(); ;) {
    const next = burst(t);
    if (next.end_s > to_s) return bursts;
    bursts.push(next);
    t = next.end_s + gap_s();
  }
}

/** One night of a kind: 9 h, asleep after 8 to 40 min at 8 to 45 mA. */
export function nightOf(kind: Kind, seed: number): Night {
  const random = randomFrom(seed * 2654435761 + KINDS.indexOf(kind));
  const between = (a: number, b: number) => a + (b - a) * random();
  const duration_s = 9 * 3600;
  const after_s = between(480, 2400);
  const level_mA = kind === 'steady' ? between(60, 400) : between(8, 45);
  const base = staircase(random, after_s, level_mA);
  const night: Night = { kind, duration_s, base, bursts: [], asleep: { after_s, level_mA }, period_s: null };
  const free_s = after_s + 120;
  switch (kind) {
    case 'quiet':
    case 'steady':
      break;
    case 'periodic': {
      const period_s = between(300, 3000);
      const length_s = between(0.2, 90);
      const height_mA = between(60, 3000);
      for (let t = free_s; t + length_s < duration_s - 60; t += period_s) {
        const start_s = t + between(-0.02, 0.02) * period_s;
        if (random() > 0.05) night.bursts.push({ start_s, end_s: start_s + length_s * between(0.95, 1.05), height_mA });
      }
      night.period_s = period_s;
      break;
    }
    case 'random':
      night.bursts = spread(
        free_s,
        duration_s - 60,
        () => 60 + -900 * Math.log(1 - random()),
        (start_s) => ({
          start_s,
          end_s: start_s + Math.exp(between(Math.log(0.2), Math.log(300))),
          height_mA: Math.exp(between(Math.log(40), Math.log(4000))),
        }),
      );
      break;
    case 'latch': {
      night.bursts = spread(
        free_s,
        duration_s - 60,
        () => between(1500, 3500),
        (start_s) => ({ start_s, end_s: start_s + between(20, 60), height_mA: 900 }),
      );
      const on_s = between(3, 7) * 3600;
      night.bursts = night.bursts.filter((b) => Math.abs(b.start_s - on_s) > 200);
      base.push({ t_s: on_s, level_mA: level_mA + between(25, 300) });
      break;
    }
    case 'spells':
      night.bursts = spread(
        free_s + 1900,
        duration_s - 60,
        () => between(1200, 4200),
        (start_s) => ({ start_s, end_s: start_s + between(1200, 4200), height_mA: between(60, 900) }),
      );
      break;
    case 'unsettled': {
      // A fresh landing every 5 to 25 min, each lower than the one before: never 30 min at one.
      base.length = 0;
      for (let t = 0, mA = 9000; t < duration_s - 60; t += between(300, 1500))
        base.push({ t_s: t, level_mA: (mA *= between(0.88, 0.95)) });
      night.asleep = null;
      break;
    }
    case 'small': {
      let mA = level_mA;
      let sign = 1;
      for (let t = after_s + between(2000, 3000); t < duration_s - 900; t += between(1200, 5000)) {
        mA += sign * between(5.3, 9);
        sign = -sign;
        base.push({ t_s: t, level_mA: mA });
      }
    }
  }
  return night;
}
