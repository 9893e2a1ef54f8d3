// Nights that come to rest without a step that shows, with their exact truth: a plateau that decays
// slowly, and a level with bumps too small for a wake-up. A scorer with fixed tolerances. Currents are
// drawn as closed forms, and so are their means. No source: invented.

import type { Trace } from '../../../host/contract/capture.ts';
import type { Findings, VerdictCode } from '../../../host/contract/findings.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import type { AnalysisOptions } from '../../../host/contract/settings.ts';
import { randomFrom, traceOf } from './night.ts';
import type { Burst, Sampling } from './night.ts';

export const KINDS = ['decay', 'decay with wake-ups', 'bumps'] as const;
export type Kind = (typeof KINDS)[number];

/** The definitions: held for so long in sum, no later fall of more than this, and a step. */
const LONG_S = 1800;
const FALL_MA = 10;
const STEP_MA = DEFAULT_OPTIONS.step_mA;

/** Most that the asleep level may be off. */
const LEVEL_MA = 1.5;
/** Where sleep begins at an edge, most that its time may be off. */
const EDGE_S = 5;
/** A level that was decayed to is told too late from half a step above its end on, too early over the fall. */
const LATE_MA = STEP_MA / 2;
/** An average may be off by so much, and the allowance is drawn at least so far from all that it is held against. */
const MEAN_MA = 1.5;
const CLEAR_MA = 2.5;

export interface Truth {
  after_s: number;
  level_mA: number;
  /** From `after_s` on, wake-ups included. */
  mean_mA: number;
  code: VerdictCode;
  /** Current without wake-ups and noise, and that at the end of the night; null for bumps, which begin at an edge. */
  decay: { at: (t_s: number) => number; end_mA: number } | null;
}

export interface Drawn {
  kind: Kind;
  seed: number;
  said: string;
  trace: Trace;
  options: AnalysisOptions;
  truth: Truth;
}

/** What the draws of one night are made from. */
interface Dice {
  random: () => number;
  between: (low: number, high: number) => number;
  /** As likely in each doubling. */
  scaled: (low: number, high: number) => number;
}

function diceOf(kind: Kind, seed: number): Dice {
  const random = randomFrom(seed * 40503 + 977 * KINDS.indexOf(kind) + 5);
  return {
    random,
    between: (low, high) => low + (high - low) * random(),
    scaled: (low, high) => low * (high / low) ** random(),
  };
}

/** Points at 1 Hz, or windows of 50 ms thinned by averaging four; noise of one sample 0.05 to 1 mA. */
function samplingOf({ random, scaled }: Dice): Sampling {
  const windows = random() < 0.5;
  return { step_s: windows ? 0.2 : 1, windows, noise_mA: scaled(0.05, 1) };
}

/** The first allowance that lies clear of all these currents. */
function allowanceBeside(currents: readonly number[]): number {
  for (const mA of [50, 60, 40, 75, 30, 90, 25, 120, 150]) {
    if (currents.every((current) => Math.abs(current - mA) >= CLEAR_MA)) return mA;
  }
  throw new Error(`no allowance lies clear of ${currents.join(', ')}`);
}

/** Wake-ups from two minutes on, with two minutes at least between them. */
function wakeUps(dice: Dice, duration_s: number): Burst[] {
  const bursts: Burst[] = [];
  const pause_s = dice.scaled(300, 2400);
  for (let t = 120 + pause_s * dice.random(); ;) {
    const start_s = t,
      end_s = t + dice.scaled(4, 120);
    if (end_s > duration_s - 120) return bursts;
    bursts.push({ start_s, end_s, height_mA: dice.scaled(60, 1500) });
    t = end_s + 120 + 2 * pause_s * dice.random();
  }
}

/**
 * A plateau of 10 min to 2 h that lies 15 to 120 mA over what it decays to, with a time constant of 1 min
 * to half an hour, and 1.5 h to 7 h or five time constants for it.
 */
function decayNight(kind: Kind, seed: number): Drawn {
  const dice = diceOf(kind, seed);
  const { between, scaled } = dice;
  const plateau_s = scaled(600, 7200),
    tau_s = scaled(60, 1800),
    high_mA = scaled(15, 120);
  const floor_mA = dice.random() < 0.8 ? between(8, 45) : between(60, 110);
  const duration_s = Math.round(plateau_s + Math.max(5 * tau_s, between(1.5, 7) * 3600));
  const sampling = samplingOf(dice);
  const bursts = kind === 'decay' ? [] : wakeUps(dice, duration_s);

  const over = (t_s: number) => high_mA * (t_s < plateau_s ? 1 : Math.exp(-(t_s - plateau_s) / tau_s));
  const end_mA = floor_mA + over(duration_s);
  const after_s = plateau_s + tau_s * Math.log(high_mA / (end_mA + STEP_MA - floor_mA));
  // Current times time from a to b, both after the plateau.
  const area = (a: number, b: number) => floor_mA * (b - a) + tau_s * (over(a) - over(b));
  let [asleep_mAs, clock_s, woken_mAs] = [area(after_s, duration_s), duration_s - after_s, 0];
  for (const { start_s, end_s, height_mA } of bursts) {
    const from_s = Math.max(start_s, after_s);
    if (end_s <= from_s) continue;
    asleep_mAs -= area(from_s, end_s);
    clock_s -= end_s - from_s;
    woken_mAs += area(from_s, end_s) + height_mA * (end_s - from_s);
  }
  const level_mA = asleep_mAs / clock_s;
  const mean_mA = (asleep_mAs + woken_mAs) / (duration_s - after_s);
  const allowance_mA = allowanceBeside([level_mA, mean_mA]);
  const plan = { duration_s, base: [{ t_s: 0, level_mA: floor_mA }], bursts };
  const one = (x: number) => x.toFixed(1);
  return {
    kind,
    seed,
    said: `${one(floor_mA + high_mA)} mA for ${one(plateau_s / 60)} min, to ${one(floor_mA)} mA with ${one(tau_s / 60)} min, ${one(duration_s / 3600)} h, ${bursts.length} wake-ups, ${sampling.windows ? 'windows' : 'points'}, noise ${sampling.noise_mA.toFixed(2)} mA`,
    trace: traceOf(plan, { ...sampling, drift: over }, seed),
    options: { ...DEFAULT_OPTIONS, allowance_mA },
    truth: {
      after_s,
      level_mA,
      mean_mA,
      code: level_mA > allowance_mA ? 'over' : mean_mA > allowance_mA ? 'wakes' : 'within',
      decay: { at: (t_s) => floor_mA + over(t_s), end_mA },
    },
  };
}

/**
 * A level, after none to 40 min awake, with a bump of 5.5 to 9 mA for 21 to 90 s every 6 to 28 min: no
 * stretch of it lasts half an hour. The bumps are a level of their own, which counts where they last half
 * an hour in sum.
 */
function bumpsNight(kind: Kind, seed: number): Drawn {
  const dice = diceOf(kind, seed);
  const { between, scaled } = dice;
  const after_s = dice.random() < 0.5 ? 0 : Math.round(between(300, 2400));
  const level_mA = between(8, 100),
    by_mA = between(5.5, 9),
    length_s = scaled(21, 90);
  const period_s = scaled(360, 1680),
    duration_s = Math.round(after_s + between(3, 9) * 3600);
  const sampling = samplingOf(dice);
  const bumps: { t_s: number; end_s: number }[] = [];
  for (let t_s = after_s + period_s; t_s + length_s < duration_s - 120; t_s += period_s * between(0.97, 1.03))
    bumps.push({ t_s, end_s: t_s + length_s });
  // What lies just at half an hour may fall on either side of it.
  const most = LONG_S / length_s;
  while (bumps.length > 0.85 * most && bumps.length < 1.15 * most) bumps.pop();
  const bumped_s = bumps.length * length_s;
  // Without the last bumps the level itself may be held long at its end, as it may be for a real car.
  const base = [
    ...(after_s > 0 ? [{ t_s: 0, level_mA: level_mA + between(80, 900) }] : []),
    { t_s: after_s, level_mA },
    ...bumps.flatMap(({ t_s, end_s }) => [
      { t_s, level_mA: level_mA + by_mA },
      { t_s: end_s, level_mA },
    ]),
  ];
  const mean_mA = level_mA + (by_mA * bumped_s) / (duration_s - after_s);
  const highest_mA = bumped_s >= LONG_S ? level_mA + by_mA : level_mA;
  const allowance_mA = allowanceBeside([level_mA, mean_mA, highest_mA]);
  const one = (x: number) => x.toFixed(1);
  return {
    kind,
    seed,
    said: `${one(level_mA)} mA after ${one(after_s / 60)} min, ${bumps.length} bumps of ${one(by_mA)} mA for ${one(length_s)} s every ${one(period_s / 60)} min, ${one(duration_s / 3600)} h, ${sampling.windows ? 'windows' : 'points'}, noise ${sampling.noise_mA.toFixed(2)} mA`,
    trace: traceOf({ duration_s, base, bursts: [] }, sampling, seed),
    options: { ...DEFAULT_OPTIONS, allowance_mA },
    truth: {
      after_s,
      level_mA,
      mean_mA,
      code: highest_mA > allowance_mA ? 'over' : mean_mA > allowance_mA ? 'wakes' : 'within',
      decay: null,
    },
  };
}

/** One night of a kind; the same seed, the same night. */
export function nightOf(kind: Kind, seed: number): Drawn {
  return kind === 'bumps' ? bumpsNight(kind, seed) : decayNight(kind, seed);
}

/** What is wrong with the findings of a night, in words; empty where nothing is. */
export function complaintsOf({ kind, seed, said, truth, options }: Drawn, found: Findings): string[] {
  const out: string[] = [];
  const say = (text: string) => out.push(`${kind} seed ${seed} (${said}): ${text}`);
  const one = (x: number) => x.toFixed(1);
  if (found.verdict.code !== truth.code) say(`${found.verdict.code} for ${truth.code} of ${options.allowance_mA} mA`);
  const { asleep } = found;
  if (asleep === null) {
    say('not asleep');
    return out;
  }
  if (!(Math.abs(asleep.level_mA - truth.level_mA) <= LEVEL_MA))
    say(`level ${one(asleep.level_mA)} for ${one(truth.level_mA)}`);
  if (!(Math.abs(asleep.mean_mA - truth.mean_mA) <= MEAN_MA))
    say(`mean ${one(asleep.mean_mA)} for ${one(truth.mean_mA)}`);
  const { decay } = truth;
  const over_mA = decay === null ? 0 : decay.at(asleep.after_s) - decay.end_mA;
  const timely =
    decay === null
      ? Math.abs(asleep.after_s - truth.after_s) <= EDGE_S
      : over_mA >= LATE_MA && over_mA <= FALL_MA + 0.5;
  if (!timely) say(`after ${one(asleep.after_s)} s for ${one(truth.after_s)} s, ${one(over_mA)} mA over its end`);
  return out;
}
