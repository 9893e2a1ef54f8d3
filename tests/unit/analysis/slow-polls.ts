// Nights with a poll every 5 to 10 s all night, with their truth: the polls are part of the level, the
// steps under them and the wake-ups among them are what there is to tell. No source: invented.

import type { Trace } from '../../../host/contract/capture.ts';
import type { Findings } from '../../../host/contract/findings.ts';
import { randomFrom, traceOf } from './night.ts';
import type { Burst, Landing } from './night.ts';

/** Most that a step may be off, and the ends of a wake-up. */
const STEP_S = 2;
const WAKE_S = 1;

export interface SlowlyPolled {
  said: string;
  trace: Trace;
  polls: { count: number; period_s: number; length_s: number; charge_mAh: number };
  steps_s: number[];
  wakeUps: Burst[];
}

/**
 * 5 h: two falls to sleep at 10 to 60 mA, then a circuit of 7 to 15 mA that comes and goes every half hour to
 * hour, and wake-ups of 200 to 900 mA for 15 to 90 s. Polls of 12 to 60 mA for 0.05 to 0.6 s. Windows of 50 ms
 * or points at 10 Hz; noise 0.05 to 0.5 mA. Points may miss a poll that is shorter than their spacing, so those
 * last 0.15 s at least.
 */
export function slowlyPolled(seed: number): SlowlyPolled {
  const random = randomFrom(seed * 7703 + 29);
  const between = (low: number, high: number) => low + (high - low) * random();
  const duration_s = 5 * 3600;
  const windows = random() < 0.6;
  const height_mA = between(12, 60),
    period_s = between(5, 10),
    length_s = between(windows ? 0.05 : 0.15, 0.6),
    jitter_s = random() < 0.5 ? 0 : 0.02 * period_s;
  const asleep_mA = between(10, 60);
  const first_s = between(200, 600),
    second_s = first_s + between(200, 600);
  const base: Landing[] = [
    { t_s: 0, level_mA: asleep_mA + between(150, 300) },
    { t_s: first_s, level_mA: asleep_mA + between(40, 120) },
    { t_s: second_s, level_mA: asleep_mA },
  ];
  for (
    let t_s = second_s + between(2000, 3000), on = true;
    t_s < duration_s - 600;
    t_s += between(1800, 3600), on = !on
  )
    base.push({ t_s, level_mA: on ? asleep_mA + between(7, 15) : asleep_mA });
  const polls: Burst[] = [];
  for (let t_s = between(0.5, period_s); t_s + 2 < duration_s; t_s += period_s) {
    const start_s = t_s + between(-jitter_s, jitter_s);
    polls.push({ start_s, end_s: start_s + length_s, height_mA });
  }
  const wakeUps: Burst[] = [];
  for (let t_s = second_s + between(300, 900); t_s < duration_s - 300; t_s += between(1500, 4000)) {
    const burst = { start_s: t_s, end_s: t_s + between(15, 90), height_mA: between(200, 900) };
    if (base.every((one) => Math.abs(one.t_s - t_s) > 240)) wakeUps.push(burst);
  }
  const noise_mA = 0.05 * 10 ** random();
  return {
    said: `seed ${seed}: ${height_mA.toFixed(1)} mA for ${(1000 * length_s).toFixed(0)} ms every ${period_s.toFixed(2)} s, jitter ${jitter_s.toFixed(2)} s, ${windows ? 'windows' : 'points'}, noise ${noise_mA.toFixed(2)} mA`,
    trace: traceOf(
      { duration_s, base, bursts: [...polls, ...wakeUps] },
      { step_s: windows ? 0.05 : 0.1, windows, noise_mA },
      seed,
    ),
    polls: { count: polls.length, period_s, length_s, charge_mAh: (height_mA * length_s) / 3600 },
    steps_s: base.slice(1).map(({ t_s }) => t_s),
    wakeUps,
  };
}

/** Steps and wake-ups found, and how many more were told. */
export function scoreOf(
  { steps_s, wakeUps }: SlowlyPolled,
  found: Findings,
): Record<'hit' | 'missed' | 'extra', number> {
  const steps = steps_s.filter((t_s) => found.steps.some((step) => Math.abs(step.t_s - t_s) <= STEP_S)).length;
  const wakes = wakeUps.filter(({ start_s, end_s }) =>
    found.wakeups.some((w) => Math.abs(w.start_s - start_s) <= WAKE_S && Math.abs(w.end_s - end_s) <= WAKE_S),
  ).length;
  const hit = steps + wakes;
  return {
    hit,
    missed: steps_s.length + wakeUps.length - hit,
    extra: found.steps.length + found.wakeups.length - hit,
  };
}

/** Most that count, period, charge and length of the polling may be off, as a share. */
const POLL_SHARE = { count: 0.03, period_s: 0.02, charge_mAh: 0.1, duration_s: 0.2 };

/** What is wrong with the polling that is told: one family with its count, period, charge and length. */
export function pollingFaults({ polls }: SlowlyPolled, { families }: Findings): string[] {
  const told = families.filter(({ polling }) => polling);
  if (told.length !== 1) return [`${told.length} families`];
  const wanted = { ...polls, duration_s: polls.length_s };
  return (Object.keys(POLL_SHARE) as (keyof typeof POLL_SHARE)[]).flatMap((key) =>
    Math.abs((told[0]![key] ?? 0) / wanted[key] - 1) <= POLL_SHARE[key]
      ? []
      : [`${key} ${told[0]![key]} for ${wanted[key]}`],
  );
}
