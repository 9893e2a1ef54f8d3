// Invented nights whose truth is known: their readings as CSV, and what an analysis
// should find in them. Sampled once a second, as a logging meter would.

import type { Overview } from '../../host/contract/api.ts';
import type { Findings, Step, WakeUp } from '../../host/contract/findings.ts';

export interface NightPlan {
  hours: number;
  /** Levels by the time at which each begins; the first begins at 0. */
  levels: { from_s: number; level_mA: number }[];
  wakeups: { start_s: number; length_s: number; above_mA: number; family: number | null }[];
  gaps?: { start_s: number; end_s: number }[];
}

export interface Night {
  plan: NightPlan;
  /** `time,current_mA,min_mA,max_mA` */
  csv: string;
  findings: Findings;
  /** Bins of the truth, as the server would send them. */
  bins(from_s: number, to_s: number, count: number): Overview;
}

/** Midnight falls into the night. Local time, so that the picture is the same on every machine. */
export const START_MS = new Date(2026, 10, 24, 22, 5, 0).getTime();

/** A small linear congruential generator (Numerical Recipes' constants, from memory): equal nights on every run. */
export function chance(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2 ** 32;
  };
}

const every = (
  first_s: number,
  period_s: number,
  until_s: number,
  length_s: number,
  above_mA: number,
  family: number | null,
) => {
  const list: NightPlan['wakeups'] = [];
  for (let start_s = first_s; start_s + length_s < until_s; start_s += period_s)
    list.push({ start_s, length_s, above_mA, family });
  return list;
};

/** Stairs in the first 25 minutes, a wake-up every 34 minutes, one like no other, and a gap. */
export const STAIRS: NightPlan = {
  hours: 9,
  levels: [
    { from_s: 0, level_mA: 2800 },
    { from_s: 180, level_mA: 900 },
    { from_s: 480, level_mA: 420 },
    { from_s: 900, level_mA: 180 },
    { from_s: 1500, level_mA: 19 },
  ],
  wakeups: [
    ...every(3600, 34 * 60, 9 * 3600, 48, 1881, 1),
    { start_s: 16_900, length_s: 600, above_mA: 340, family: null },
  ].sort((a, b) => a.start_s - b.start_s),
  gaps: [{ start_s: 24_600, end_s: 25_320 }],
};

export const STEADY: NightPlan = { hours: 9, levels: [{ from_s: 0, level_mA: 320 }], wakeups: [] };

/** Ten thousand wake-ups of 3 s, one every 36 s. */
export const RESTLESS: NightPlan = {
  hours: 101,
  levels: [
    { from_s: 0, level_mA: 640 },
    { from_s: 700, level_mA: 24 },
  ],
  wakeups: every(1800, 36, 1800 + 36 * 10_000, 3, 260, 1),
};

export function inventNight(plan: NightPlan, seed = 1): Night {
  const seconds = Math.round(plan.hours * 3600);
  const mean = truth(plan, seconds);
  const random = chance(seed);
  const noise_mA = (value: number) => (random() - 0.5) * (0.6 + Math.abs(value) * 0.004);
  const rows: string[] = ['time,current_mA,min_mA,max_mA'];
  const [means, lows, highs] = [new Float64Array(seconds), new Float64Array(seconds), new Float64Array(seconds)];
  for (let s = 0; s < seconds; s++) {
    means[s] = mean[s]! + noise_mA(mean[s]!);
    const spread = 0.5 + Math.abs(means[s]!) * 0.03;
    lows[s] = means[s]! - spread * (0.4 + random());
    highs[s] = means[s]! + spread * (0.4 + random());
    if (inGap(plan, s)) continue;
    rows.push(
      `${new Date(START_MS + s * 1000).toISOString()},${means[s]!.toFixed(3)},${lows[s]!.toFixed(3)},${highs[s]!.toFixed(3)}`,
    );
  }
  return {
    plan,
    csv: rows.join('\n') + '\n',
    findings: findingsOf(plan, mean, seconds),
    bins: (from_s, to_s, count) => binsOf(plan, means, lows, highs, from_s, to_s, count),
  };
}

function truth(plan: NightPlan, seconds: number): Float64Array {
  const mean = new Float64Array(seconds);
  plan.levels.forEach(({ from_s, level_mA }, i) => mean.fill(level_mA, from_s, plan.levels[i + 1]?.from_s ?? seconds));
  for (const { start_s, length_s, above_mA } of plan.wakeups) {
    for (let s = start_s; s < Math.min(seconds, start_s + length_s); s++) mean[s]! += above_mA;
  }
  return mean;
}

function inGap(plan: NightPlan, s: number): boolean {
  return (plan.gaps ?? []).some((gap) => s > gap.start_s && s < gap.end_s);
}

/** As sure as a quiet night is. */
const around = (value: number) => ({ low: value - 0.05, high: value + 0.05 });

function findingsOf(plan: NightPlan, mean: Float64Array, seconds: number): Findings {
  const { levels } = plan;
  const asleep = levels.at(-1)!;
  const steps: Step[] = levels.slice(1).map((level, i) => ({
    t_s: level.from_s,
    from_mA: levels[i]!.level_mA,
    to_mA: level.level_mA,
    t_95_s: { low: level.from_s, high: level.from_s },
    change_95_mA: around(level.level_mA - levels[i]!.level_mA),
  }));
  const levelAt = (s: number) => levels.findLast((level) => level.from_s <= s)!.level_mA;
  const wakeups: WakeUp[] = plan.wakeups.map((w) => ({
    start_s: w.start_s,
    end_s: w.start_s + w.length_s,
    peak_mA: levelAt(w.start_s) + w.above_mA,
    mean_mA: levelAt(w.start_s) + w.above_mA,
    charge_mAh: (w.above_mA * w.length_s) / 3600,
    charge_95_mAh: around((w.above_mA * w.length_s) / 3600),
    family: w.family,
    steps: [],
  }));
  const members = plan.wakeups.filter((w) => w.family === 1);
  const woken_mAh = wakeups.reduce((sum, w) => sum + w.charge_mAh, 0);
  const total_mAh = mean.reduce((sum, value) => sum + value, 0) / 3600;
  const before_mAh = mean.subarray(0, asleep.from_s).reduce((sum, value) => sum + value, 0) / 3600;
  return {
    trace: {
      start: new Date(START_MS).toISOString(),
      duration_s: seconds,
      samples: seconds,
      mean_mA: total_mAh / (seconds / 3600),
      gaps: plan.gaps ?? [],
    },
    allowance_mA: 50,
    verdict: {
      code: 'within',
      sentence: `Asleep after ${Math.round(asleep.from_s / 60)} min at ${asleep.level_mA} mA.`,
    },
    asleep: {
      after_s: asleep.from_s,
      level_mA: asleep.level_mA,
      mean_mA: ((total_mAh - before_mAh) * 3600) / (seconds - asleep.from_s),
      covered_s: seconds - asleep.from_s,
    },
    steps,
    wakeups,
    families:
      members.length === 0
        ? []
        : [
            {
              id: 1,
              count: members.length,
              period_s: members.length > 1 ? members[1]!.start_s - members[0]!.start_s : null,
              period_chance: members.length > 1 ? 1e-6 : null,
              period_95_s: null,
              polling: false,
              duration_s: members[0]!.length_s,
              charge_mAh: (members[0]!.above_mA * members[0]!.length_s) / 3600,
            },
          ],
    dips: [],
    charge: {
      total_mAh,
      going_to_sleep_mAh: before_mAh,
      asleep_mAh: total_mAh - before_mAh - woken_mAh,
      wakeups_mAh: woken_mAh,
      gaps_mAh: null,
    },
    battery: {},
    levels: levels.map((level, i) => ({
      start_s: level.from_s,
      end_s: levels[i + 1]?.from_s ?? seconds,
      level_mA: level.level_mA,
      level_95_mA: around(level.level_mA),
    })),
  };
}

function binsOf(
  plan: NightPlan,
  means: Float64Array,
  lows: Float64Array,
  highs: Float64Array,
  from_s: number,
  to_s: number,
  count: number,
): Overview {
  const bins: Overview = { from_s, to_s, mean_mA: [], min_mA: [], max_mA: [] };
  const width_s = (to_s - from_s) / count;
  for (let b = 0; b < count; b++) {
    const first = Math.max(0, Math.floor(from_s + b * width_s));
    const end = Math.min(means.length, Math.max(first + 1, Math.floor(from_s + (b + 1) * width_s)));
    let [sum, seen, low, high] = [0, 0, Infinity, -Infinity];
    for (let s = first; s < end; s++) {
      if (inGap(plan, s)) continue;
      sum += means[s]!;
      seen++;
      low = Math.min(low, lows[s]!);
      high = Math.max(high, highs[s]!);
    }
    bins.mean_mA.push(seen > 0 ? sum / seen : null);
    bins.min_mA.push(seen > 0 ? low : null);
    bins.max_mA.push(seen > 0 ? high : null);
  }
  return bins;
}
