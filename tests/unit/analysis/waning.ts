// Nights with wake-ups whose current falls off slowly, as that of a motor, a lamp or a heater does, and with some
// that come down in steps too, with their truth: the slow fall is no step, the steps are. No source: invented.

import type { Trace } from '../../../host/contract/capture.ts';
import type { Findings } from '../../../host/contract/findings.ts';
import { randomFrom, traceOf } from './night.ts';
import type { Burst } from './night.ts';

/** Fine: codes of 1 mA or less. Coarse: a clamp that shows 5 or 10 mA, and steps of six codes and more. */
export const WANING = ['fine', 'coarse'] as const;
export type Waning = (typeof WANING)[number];

/** Most that a step may be off, and the ends of a wake-up. */
const STEP_S = 2.5;
const WAKE_S = 2.5;

export interface WaningNight {
  said: string;
  trace: Trace;
  wakeUps: { start_s: number; end_s: number; steps_s: number[] }[];
}

/**
 * 5 h at 10 to 40 mA and four wake-ups of 5 to 20 min, 150 to 700 mA high, of which 10 to 60 % fall off with a time
 * constant of 40 to 400 s. Half of them come down by a step or two of 40 mA and more, with 80 s at least on each side
 * of a step. Windows of 50 ms, points at 10 Hz or at 1 Hz; noise 0.1 to 2 mA.
 */
export function waningNight(kind: Waning, seed: number): WaningNight {
  const random = randomFrom(seed * 5281 + 17 * WANING.indexOf(kind));
  const between = (low: number, high: number) => low + (high - low) * random();
  const [step_s, windows] = (
    [
      [0.05, true],
      [0.1, false],
      [1, false],
    ] as const
  )[Math.floor(3 * random())]!;
  const noise_mA = 0.1 * 20 ** random();
  const code_mA = kind === 'coarse' ? (random() < 0.5 ? 5 : 10) : random() < 0.5 ? 0 : 1;
  const least_mA = Math.max(40, 6 * code_mA);
  const bursts: Burst[] = [];
  const falls: { start_s: number; end_s: number; by_mA: number; tau_s: number }[] = [];
  const wakeUps = Array.from({ length: 4 }, (_, i) => {
    const start_s = 2400 + 3600 * i + between(0, 600);
    const end_s = start_s + between(300, 1200);
    const height_mA = between(150, 700);
    const by_mA = height_mA * between(0.1, 0.6);
    falls.push({ start_s, end_s, by_mA, tau_s: between(40, 400) });
    const stays_mA = height_mA - by_mA;
    const count = random() < 0.5 ? 0 : Math.min(2, Math.floor((0.8 * stays_mA) / least_mA));
    const room_s = (end_s - start_s) / (count + 1);
    const steps_s = room_s < 100 ? [] : Array.from({ length: count }, (__, n) => start_s + room_s * (n + 1));
    let left_mA = stays_mA;
    for (const end of steps_s) {
      // What is switched off lasts from the beginning to the step.
      const mA = between(least_mA, Math.max(least_mA, (0.8 * stays_mA) / count));
      bursts.push({ start_s, end_s: end, height_mA: mA });
      left_mA -= mA;
    }
    bursts.push({ start_s, end_s, height_mA: left_mA });
    return { start_s, end_s, steps_s };
  });
  const drift = (t_s: number) => {
    const fall = falls.find(({ start_s, end_s }) => t_s >= start_s && t_s < end_s);
    return fall === undefined ? 0 : fall.by_mA * Math.exp(-(t_s - fall.start_s) / fall.tau_s);
  };
  const trace = traceOf(
    { duration_s: 5 * 3600, base: [{ t_s: 0, level_mA: between(10, 40) }], bursts },
    { step_s, windows, noise_mA, resolution_mA: code_mA, drift },
    seed,
  );
  return {
    said: `${kind}, seed ${seed}: ${windows ? 'windows' : 'points'} of ${step_s} s, noise ${noise_mA.toFixed(2)} mA, codes of ${code_mA} mA; ${falls.map((f, i) => `${f.by_mA.toFixed(0)} mA in ${f.tau_s.toFixed(0)} s and ${wakeUps[i]!.steps_s.length} steps`).join(', ')}`,
    trace,
    wakeUps,
  };
}

/** Wake-ups, and steps inside them, found and missed, and how many more were told. */
export function scoreOf({ wakeUps }: WaningNight, found: Findings): Record<'hit' | 'missed' | 'extra', number> {
  let [hit, wanted] = [0, 0];
  let told = found.steps.length + found.wakeups.length;
  for (const one of wakeUps) {
    wanted += 1 + one.steps_s.length;
    const own = found.wakeups.find(
      (w) => Math.abs(w.start_s - one.start_s) <= WAKE_S && Math.abs(w.end_s - one.end_s) <= WAKE_S,
    );
    if (own === undefined) continue;
    hit += 1 + one.steps_s.filter((t_s) => own.steps.some((step) => Math.abs(step.t_s - t_s) <= STEP_S)).length;
  }
  for (const { steps } of found.wakeups) told += steps.length;
  return { hit, missed: wanted - hit, extra: told - hit };
}
