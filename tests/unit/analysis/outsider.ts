// Nights drawn by an outsider from the written definitions alone, with the exact truth
// of each: a staircase down to sleep, events on it whose steps and wake-ups are known
// by construction, loads that blink or poll, drift, gaps, and noise of several sorts.
// Another generator than night.ts and than the emulated car. Same seed, same night.

import type { Gap, Trace } from '../../../host/contract/capture.ts';
import { chance, gaussian } from './outsider-chance.ts';

export const NIGHT_KINDS = ['quiet', 'steady', 'periodic', 'random', 'latch', 'spells', 'restless', 'small'] as const;
export type NightKind = (typeof NIGHT_KINDS)[number];
export const SAMPLINGS = ['points 1 Hz', 'points 10 Hz', 'windows 50 ms', 'raw 1 kHz'] as const;
export type SamplingName = (typeof SAMPLINGS)[number];
export const LOADS = ['none', 'blink', 'polling'] as const;
export type Load = (typeof LOADS)[number];

export interface TrueStep {
  t_s: number;
  by_mA: number;
}

export interface TrueWake {
  start_s: number;
  end_s: number;
  /** Above the level before it. */
  charge_mAh: number;
  height_mA: number;
  /** Highest part of it. */
  top_mA: number;
  heightAt: (t_s: number) => number;
  steps: TrueStep[];
}

export interface Truth {
  steps: TrueStep[];
  wakes: TrueWake[];
  dips: TrueWake[];
  /** Levels with wake-ups and dips set aside; `level_mA` without drift. */
  levels: { start_s: number; end_s: number; level_mA: number; held_s: number }[];
  period_s: number | null;
}

export interface Plan {
  seed: number;
  kind: NightKind;
  sampling: SamplingName;
  load: Load;
  noise_mA: number;
  memory: number;
  /** Noise grows by this share of the current. */
  perLoad: number;
  code_mA: number;
  drift_mA: number;
  gaps: boolean;
}

export interface Drawn {
  plan: Plan;
  trace: Trace;
  truth: Truth;
  spacing_s: number;
  duration_s: number;
  /** Exact mean of the blinking or polling. */
  load_mA: number;
  /** Drift at a time. */
  driftAt: (t_s: number) => number;
}

/** Current as changes: from `t_s` on, `by_mA` more. */
interface Change {
  t_s: number;
  by_mA: number;
}

const SPACING_S: Record<SamplingName, number> = {
  'points 1 Hz': 1,
  'points 10 Hz': 0.1,
  'windows 50 ms': 0.05,
  'raw 1 kHz': 0.001,
};

class Composer {
  readonly changes: Change[] = [];
  readonly truth: Truth = { steps: [], wakes: [], dips: [], levels: [], period_s: null };
  level_mA: number;
  private levelFrom_s = 0;
  private away_s = 0;
  constructor(
    readonly random: () => number,
    start_mA: number,
  ) {
    this.level_mA = start_mA;
    this.changes.push({ t_s: 0, by_mA: start_mA });
  }
  within(low: number, high: number): number {
    return low + (high - low) * this.random();
  }
  /** As likely in each decade. */
  scaled(low: number, high: number): number {
    return low * (high / low) ** this.random();
  }
  step(t_s: number, to_mA: number): void {
    this.changes.push({ t_s, by_mA: to_mA - this.level_mA });
    this.truth.steps.push({ t_s, by_mA: to_mA - this.level_mA });
    this.truth.levels.push({
      start_s: this.levelFrom_s,
      end_s: t_s,
      level_mA: this.level_mA,
      held_s: t_s - this.levelFrom_s - this.away_s,
    });
    this.level_mA = to_mA;
    this.levelFrom_s = t_s;
    this.away_s = 0;
  }
  close(end_s: number): void {
    this.truth.levels.push({
      start_s: this.levelFrom_s,
      end_s,
      level_mA: this.level_mA,
      held_s: end_s - this.levelFrom_s - this.away_s,
    });
  }
  /** Parts: each so long at so much over the level. `after_mA`: where it comes back to. */
  event(start_s: number, parts: [s: number, mA: number][], after_mA = this.level_mA): number {
    let t_s = start_s;
    let now = 0;
    let area = 0;
    for (const [s, mA] of parts) {
      this.changes.push({ t_s, by_mA: mA - now });
      now = mA;
      area += s * mA;
      t_s += s;
    }
    this.changes.push({ t_s, by_mA: after_mA - this.level_mA - now });
    const steps: TrueStep[] = [];
    // An inrush or a dip too short to be held is part of the level around it.
    const held = parts.filter(([s]) => s >= 20);
    let at = start_s;
    let last: number | null = null;
    for (const part of parts) {
      if (held.includes(part)) {
        if (last !== null && Math.abs(part[1] - last) >= 5) steps.push({ t_s: at, by_mA: part[1] - last });
        last = part[1];
      }
      at += part[0];
    }
    const found: TrueWake = {
      start_s,
      end_s: t_s,
      charge_mAh: area / 3600,
      height_mA: area / (t_s - start_s),
      top_mA: Math.max(...parts.map(([, mA]) => mA)),
      heightAt: (when_s) =>
        parts.find((_, i) => when_s < start_s + parts.slice(0, i + 1).reduce((sum, [s]) => sum + s, 0))?.[1] ?? 0,
      steps,
    };
    (area > 0 ? this.truth.wakes : this.truth.dips).push(found);
    this.away_s += t_s - start_s;
    if (after_mA !== this.level_mA) {
      this.truth.steps.push({ t_s, by_mA: after_mA - this.level_mA });
      this.truth.levels.push({
        start_s: this.levelFrom_s,
        end_s: start_s,
        level_mA: this.level_mA,
        held_s: t_s - this.levelFrom_s - this.away_s,
      });
      this.level_mA = after_mA;
      this.levelFrom_s = t_s;
      this.away_s = 0;
    }
    return t_s;
  }
}

/** One event of some form; returns its end. `least_s`: shortest that the sampling shows. */
function someEvent(c: Composer, t_s: number, least_s: number, room_s: number, load: Load): number {
  const form = Math.floor(c.random() * 8);
  // Blinks and polling are part of the level: what is to stand out must be higher or longer than they.
  const low = load === 'none' ? 28 : 130;
  const h = c.scaled(low, 4000);
  const length = c.scaled(least_s, Math.min(7200, room_s));
  if (form === 0) return c.event(t_s, [[length, h]]);
  if (form === 1)
    return c.event(t_s, [
      [Math.max(least_s, Math.min(0.2, length / 4)), h * 4],
      [length, h],
    ]);
  if (form === 2 && room_s > 400)
    return c.event(t_s, [
      [c.within(40, room_s / 4), h * 2 + 30],
      [c.within(40, room_s / 4), h],
    ]);
  if (form === 3 && room_s > 400) {
    const [a, b] = [c.within(30, room_s / 6), c.within(30, room_s / 6)];
    return c.event(t_s, [
      [a, h],
      [b, h * 1.7 + 20],
      [a, h * 0.7 + 20],
    ]);
  }
  if (form === 4) {
    // Back to back.
    const short = Math.min(length, room_s / 3);
    const rest = Math.max(least_s * 2, 1.5);
    const end = c.event(t_s, [[short, h]]);
    return c.event(end + rest, [[short * c.within(0.4, 1), h * c.within(0.8, 2)]]);
  }
  if (form === 5 && room_s > 200) {
    // With a short dip inside.
    const s = c.within(40, room_s / 3);
    return c.event(t_s, [
      [s, h],
      [Math.max(1.5 * least_s, 0.3), h * 0.5 + 14],
      [s, h],
    ]);
  }
  return c.event(t_s, [[length, h]]);
}

function staircase(c: Composer, random: () => number, scale: number, least_s: number, load: Load): number {
  let t = 24 + c.within(60, 400) * scale;
  const levels = 1 + Math.floor(random() * 4);
  for (let i = 0; i < levels; i++) {
    if (random() < 0.4)
      t =
        c.event(t, [[c.within(Math.max(least_s, 0.4), 15), c.scaled(load === 'none' ? 60 : 150, 3000)]]) +
        c.within(40, 200) * scale;
    const to = i === levels - 1 ? c.within(8, 45) : c.level_mA * c.within(0.3, 0.75);
    if (c.level_mA - to < 12) break;
    c.step(t, to);
    t += 24 + c.within(60, 500) * scale;
  }
  if (c.level_mA > 60) {
    c.step(t, c.within(8, 45));
    t += 24 + 100 * scale;
  }
  return t;
}

function compose(plan: Plan, random: () => number, duration_s: number): Composer {
  const scale = duration_s / 28800;
  const spacing_s = SPACING_S[plan.sampling];
  // Points must hit it twice and more; windows with extremes show what a conversion does.
  const least_s = plan.sampling === 'windows 50 ms' ? 0.002 : plan.sampling === 'raw 1 kHz' ? 0.004 : 3.2 * spacing_s;
  const c = new Composer(random, plan.kind === 'restless' ? 400 : random() * 6000 + 300);
  let t = plan.kind === 'restless' ? 30 + 200 * scale : staircase(c, random, Math.max(scale, 0.15), least_s, plan.load);
  const last_s = duration_s - 60;
  const sleep_mA = c.level_mA;
  if (plan.kind === 'periodic') {
    const period = c.within(120, 1200) * scale;
    const length = c.scaled(least_s, Math.min(60, period / 4));
    const h = c.scaled(plan.load === 'none' ? 28 : 130, 3000);
    const jitter = period * 0.005;
    let members = 0;
    for (; t + period < last_s; t += period) {
      if (random() < 0.1 && members > 0) continue;
      c.event(t + c.within(-jitter, jitter), [[length, h]]);
      members++;
    }
    c.truth.period_s = members >= 6 ? period : null;
  } else if (plan.kind === 'random') {
    for (let k = 0; ; k++) {
      t += c.within(60, 1800) * scale + 5;
      const room = Math.min(last_s - t, 7200 * scale);
      if (room < 100 * scale + 20) break;
      t = someEvent(c, t, least_s, room / 2, plan.load) + 30;
      if (random() < 0.15) {
        // Comes back below (or a step on its own).
        t += 60;
        if (t + 120 > last_s) break;
        if (c.level_mA > 30) t = c.event(t, [[c.within(2, 40), c.scaled(140, 900)]], c.level_mA - c.within(8, 18)) + 60;
        else {
          c.step(t, c.level_mA + c.within(8, 18));
          t += 60;
        }
      }
    }
  } else if (plan.kind === 'latch') {
    t += c.within(3000, 12000) * scale;
    if (random() < 0.5) t = c.event(t, [[c.within(Math.max(least_s, 1), 20), c.scaled(140, 900)]]) + 40;
    c.step(t, c.level_mA + c.scaled(25, 900));
    for (t += 200 * scale + 30; random() < 0.7; t += c.within(300, 3000) * scale + 30) {
      if (t + 600 * scale + 60 > last_s) break;
      t = c.event(t, [[c.scaled(least_s, 200 * scale), c.scaled(140, 900)]]);
    }
  } else if (plan.kind === 'spells') {
    for (t += 200 * scale; ; t += c.within(300, 3000) * scale) {
      const length = c.within(1200, 4200) * scale;
      if (t + length > last_s) break;
      const h = c.scaled(25, 800);
      t = c.event(
        t,
        random() < 0.3 && length > 100
          ? [
              [length / 2, h],
              [length / 2, h * 0.6 + 12],
            ]
          : [[length, h]],
      );
    }
  } else if (plan.kind === 'restless') {
    // A fall every quarter of an hour: no level is held for 30 min.
    while (c.level_mA > 40 && t < last_s - 900 * scale) {
      c.step(t, c.level_mA - c.within(11, 25));
      t += c.within(500, 1500) * scale;
    }
  } else if (plan.kind === 'small') {
    for (t += 300 * scale; t + 400 * scale < last_s; t += c.within(400, 3000) * scale) {
      const up = c.level_mA < sleep_mA ? 1 : c.level_mA > sleep_mA + 12 ? -1 : random() < 0.5 ? 1 : -1;
      c.step(t, c.level_mA + up * c.within(5.2, 9));
    }
  } else if (plan.kind === 'steady' && random() < 0.5 && last_s - t > 500) {
    // A dip, long held before and after.
    const at = (t + last_s) / 2;
    c.event(at, [[c.within(Math.max(2, 3 * spacing_s), 30), -Math.max(22, c.level_mA * 0.9)]]);
    if (c.level_mA < 25) {
      c.changes.splice(-2);
      c.truth.dips.pop();
    }
  }
  c.close(duration_s);
  return c;
}

interface Blinking {
  period_s: number;
  on: [from: number, to: number, mA: number][];
}

function blinkingOf(load: Load, random: () => number): Blinking | null {
  if (load === 'none') return null;
  if (load === 'polling') {
    const period_s = 0.25 + 0.05 * random();
    return { period_s, on: [[0, 0.004 + 0.01 * random(), 20 + 40 * random()]] };
  }
  const long = random() < 0.5;
  return { period_s: long ? 2.013 : 1.003, on: [[0, 0.1, long ? 40 : 65]] };
}

export function draw(plan: Plan): Drawn {
  const random = chance(plan.seed);
  const spacing_s = SPACING_S[plan.sampling];
  const duration_s = plan.sampling === 'raw 1 kHz' ? 2400 : 28800;
  const c = compose(plan, random, duration_s);
  const changes = [...c.changes].sort((a, b) => a.t_s - b.t_s);
  const blinking = plan.sampling.startsWith('points') ? null : blinkingOf(plan.load, random);
  const normal = gaussian(random);
  const phase = random();
  const driftAt = (t_s: number) => plan.drift_mA * Math.sin(2 * Math.PI * (t_s / 43200 + phase));
  const windows = plan.sampling === 'windows 50 ms';
  const n = Math.floor(duration_s / spacing_s);
  const mean = new Float64Array(n);
  const low = windows ? new Float64Array(n) : null;
  const high = windows ? new Float64Array(n) : null;
  const perWindow = 50;
  const code = (x: number) => (plan.code_mA > 0 ? Math.round(x / plan.code_mA) * plan.code_mA : x);
  let k = 0;
  let now = 0;
  let wander = 0;
  const keep = plan.memory;
  for (let i = 0; i < n; i++) {
    const from = i * spacing_s;
    const to = from + spacing_s;
    while (k < changes.length && changes[k]!.t_s <= from + 1e-9) now += changes[k++]!.by_mA;
    let value = now;
    let least = now;
    let most = now;
    if (windows) {
      let at = from;
      let area = 0;
      while (k < changes.length && changes[k]!.t_s < to - 1e-9) {
        area += now * (changes[k]!.t_s - at);
        at = changes[k]!.t_s;
        now += changes[k++]!.by_mA;
        least = Math.min(least, now);
        most = Math.max(most, now);
      }
      value = (area + now * (to - at)) / spacing_s;
    }
    if (blinking !== null) {
      for (const [a, b, mA] of blinking.on) {
        const first = Math.floor((from - b) / blinking.period_s);
        for (let p = first; p * blinking.period_s + a < to; p++) {
          const over = Math.min(to, p * blinking.period_s + b) - Math.max(from, p * blinking.period_s + a);
          if (windows && over > 0) {
            value += (mA * over) / spacing_s;
            most = Math.max(most, now + mA);
            if (over < spacing_s - 1e-9) least = Math.min(least, now);
          } else if (!windows && from >= p * blinking.period_s + a && from < p * blinking.period_s + b) value += mA;
        }
      }
    }
    wander = keep * wander + Math.sqrt(1 - keep * keep) * normal();
    const sigma = plan.noise_mA * (1 + plan.perLoad * Math.abs(value));
    const drift = driftAt(from);
    mean[i] = code(value + drift + (windows ? sigma / Math.sqrt(perWindow) : sigma) * wander);
    if (windows) {
      // Extremes of fifty normal values lie about 2.25 sigma out.
      low![i] = Math.min(mean[i]!, code(least + drift - sigma * (2.25 + 0.45 * normal())));
      high![i] = Math.max(mean[i]!, code(most + drift + sigma * (2.25 + 0.45 * normal())));
    }
  }
  const load_mA =
    blinking === null ? 0 : blinking.on.reduce((sum, [a, b, mA]) => sum + (mA * (b - a)) / blinking.period_s, 0);
  const trace = plan.gaps ? withGaps({ mean, low, high, spacing_s, windows }, c.truth, random) : null;
  return {
    plan,
    trace: trace ?? {
      kind: windows ? 'windows' : 'points',
      start_ms: null,
      time: { kind: 'regular', step_s: spacing_s },
      dur_s: windows ? new Float64Array(n).fill(spacing_s) : null,
      mean_mA: mean,
      min_mA: low,
      max_mA: high,
      gaps: [],
    },
    truth: c.truth,
    spacing_s,
    duration_s,
    load_mA,
    driftAt,
  };
}

interface Columns {
  mean: Float64Array;
  low: Float64Array | null;
  high: Float64Array | null;
  spacing_s: number;
  windows: boolean;
}

/** Takes some stretches out, clear of every edge, single lost samples too; windows know the charge of theirs. */
function withGaps({ mean, low, high, spacing_s, windows }: Columns, truth: Truth, random: () => number): Trace {
  const n = mean.length;
  const edges = [
    ...truth.steps.map((s) => s.t_s),
    ...[...truth.wakes, ...truth.dips].flatMap((w) => [w.start_s, w.end_s, ...w.steps.map((s) => s.t_s)]),
  ];
  const lost = new Uint8Array(n);
  const gaps: Gap[] = [];
  for (let g = 0; g < 6; g++) {
    const length = Math.max(1, Math.round((g < 3 ? spacing_s : 10 + 600 * random()) / spacing_s));
    const from = 1 + Math.floor(random() * (n - length - 2));
    const [a, b] = [from * spacing_s, (from + length) * spacing_s];
    if (edges.some((t) => t > a - 90 && t < b + 90) || lost.subarray(from - 1, from + length + 1).some((x) => x === 1))
      continue;
    lost.fill(1, from, from + length);
    if (!windows) continue;
    let charge = 0;
    for (let i = from; i < from + length; i++) charge += (mean[i]! * spacing_s) / 3600;
    gaps.push({ start_s: a, end_s: b, charge_mAh: charge });
  }
  gaps.sort((x, y) => x.start_s - y.start_s);
  const kept = Float64Array.from({ length: n }, (_, i) => i).filter((i) => lost[i] === 0);
  const pick = (values: Float64Array | null) => (values === null ? null : kept.map((i) => values[i]!));
  return {
    kind: windows ? 'windows' : 'points',
    start_ms: null,
    time: { kind: 'listed', t_s: kept.map((i) => i * spacing_s) },
    dur_s: windows ? new Float64Array(kept.length).fill(spacing_s) : null,
    mean_mA: pick(mean)!,
    min_mA: pick(low),
    max_mA: pick(high),
    gaps,
  };
}
