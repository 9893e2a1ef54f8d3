// Nights with fast polling in means alone, without least and most: most polls are cut by two windows, so
// that their height differs from poll to poll. Truth: the polls are part of their level, wake-ups are not.
// No source: invented.

import type { Trace } from '../../../host/contract/capture.ts';
import type { Findings } from '../../../host/contract/findings.ts';
import { randomFrom, traceOf } from './night.ts';
import type { Burst } from './night.ts';

const MINUTE_S = 60;
/** Most that a wake-up's ends and the level may be off. */
const TIME_S = 0.5;
const LEVEL_MA = 1.5;

export interface PolledNight {
  said: string;
  trace: Trace;
  polls: number;
  /** Wake-ups proper, far higher or longer than a poll. */
  wakeUps: Burst[];
  /** Mean of level and polls. */
  level_mA: number;
}

/**
 * 4 h at 10 to 40 mA with polls of 25 to 60 mA for 30 to 80 ms every 1 to 4 s, and five wake-ups. Windows
 * of 50 or 100 ms without least and most; noise 0.05 to 2 mA.
 */
export function polledNight(seed: number): PolledNight {
  const random = randomFrom(seed * 69069 + 11);
  const between = (low: number, high: number) => low + (high - low) * random();
  // The first is the one that was seen: 40 mA for 50 ms every 3 s.
  const [height_mA, length_s, period_s] =
    seed === 1 ? [40, 0.05, 3] : [between(25, 60), between(0.03, 0.08), between(1, 4)];
  const jitter_s = random() < 0.5 ? 0 : 0.02 * period_s;
  const base_mA = between(10, 40),
    noise_mA = 0.05 * 40 ** random(),
    step_s = random() < 0.5 ? 0.05 : 0.1,
    duration_s = 4 * 3600;
  const polls: Burst[] = [];
  for (let t = 0.4; t + 1 < duration_s; t += period_s) {
    const start_s = t + between(0, 0.1) + between(-jitter_s, jitter_s);
    polls.push({ start_s, end_s: start_s + length_s, height_mA });
  }
  const wakeUps = Array.from({ length: 5 }, (_, i) => {
    const start_s = (40 + 40 * i) * MINUTE_S + between(0, 600);
    return { start_s, end_s: start_s + between(20, 120), height_mA: between(200, 900) };
  });
  const plan = { duration_s, base: [{ t_s: 0, level_mA: base_mA }], bursts: [...polls, ...wakeUps] };
  return {
    said: `seed ${seed}: ${height_mA.toFixed(1)} mA for ${(1000 * length_s).toFixed(0)} ms every ${period_s.toFixed(2)} s, jitter ${jitter_s.toFixed(2)} s, windows of ${1000 * step_s} ms, noise ${noise_mA.toFixed(2)} mA`,
    trace: { ...traceOf(plan, { step_s, windows: true, noise_mA }, seed), min_mA: null, max_mA: null },
    polls: polls.length,
    wakeUps,
    level_mA: base_mA + (height_mA * length_s) / period_s,
  };
}

/** What the findings say beside the truth: wake-ups proper found, polls told as wake-ups, and the level. */
export function scoreOf(night: PolledNight, found: Findings): { hit: number; extra: number; isLevel: boolean } {
  const isHit = (b: Burst) =>
    found.wakeups.some((w) => Math.abs(b.start_s - w.start_s) <= TIME_S && Math.abs(b.end_s - w.end_s) <= TIME_S);
  const hit = night.wakeUps.filter(isHit).length;
  const off_mA = Math.abs((found.asleep?.level_mA ?? Infinity) - night.level_mA);
  return { hit, extra: found.wakeups.length - hit, isLevel: off_mA <= LEVEL_MA };
}
