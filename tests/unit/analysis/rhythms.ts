// Nights whose wake-ups keep a period, or none, with the truth of each family: pulses shorter than a
// window, which its edges cut; a family of which another hides every third; few members; and wake-ups
// that are alike but come at random, of which no period may be told. No source: invented.

import type { Trace } from '../../../host/contract/capture.ts';
import type { Findings } from '../../../host/contract/findings.ts';
import { randomFrom, traceOf } from './night.ts';
import type { Burst } from './night.ts';

export const RHYTHMS = ['brief', 'hidden', 'few', 'scattered'] as const;
export type Rhythm = (typeof RHYTHMS)[number];

/** Most that a start may be off, and a period, as a share of it. */
const TIME_S = 1;
const PERIOD_SHARE = 0.02;

export interface RhythmNight {
  said: string;
  trace: Trace;
  /** The family in question, in order of time. */
  members: Burst[];
  /** Wake-ups of the family that hides some of its members. */
  others: Burst[];
  period_s: number | null;
}

const HOUR_S = 3600;

/**
 * 3 h of windows of 100 ms, or 8 h of points at 1 Hz; noise 0.05 to 1 mA. Height 100 to 3000 mA, spread 3 %.
 * brief: 5 to 60 ms in windows, every 40 to 300 s. hidden: 2 to 20 s, every 150 to 400 s, every third in a
 * wake-up of 45 to 90 s. few: 4 to 6 members, each start off by at most 0.3 % of the period. scattered:
 * 3 to 8 members, at least a minute apart, else anywhere. Others stray by 1 % of the period.
 */
export function rhythmNight(kind: Rhythm, seed: number): RhythmNight {
  const random = randomFrom(seed * 48271 + 131 * RHYTHMS.indexOf(kind) + 7);
  const between = (low: number, high: number) => low + (high - low) * random();
  const scaled = (low: number, high: number) => low * (high / low) ** random();
  const windows = kind === 'brief' || random() < 0.5;
  const duration_s = (windows ? 3 : 8) * HOUR_S;
  const height_mA = scaled(100, 3000);
  const length_s = kind === 'brief' ? scaled(0.005, 0.06) : between(4, 20);
  const count =
    kind === 'few'
      ? 4 + Math.floor(3 * random())
      : kind === 'scattered'
        ? 3 + Math.floor(6 * random())
        : 4 + Math.floor(27 * random());
  const period_s =
    kind === 'brief'
      ? between(40, 300)
      : kind === 'hidden'
        ? between(150, 400)
        : ((duration_s - 900) / (count + 1)) * between(0.5, 1);
  const stray = kind === 'few' ? 0.003 : 0.01;
  const starts_s: number[] = [];
  if (kind === 'scattered')
    while (starts_s.length < count) {
      const start_s = between(300, duration_s - 200);
      if (starts_s.every((other_s) => Math.abs(other_s - start_s) > 60)) starts_s.push(start_s);
    }
  else
    for (let i = 0, t = 400; t + 120 < duration_s && (kind !== 'few' || i < count); t += period_s, i++)
      starts_s.push(t + between(-stray, stray) * period_s);
  starts_s.sort((a, b) => a - b);
  const members: Burst[] = [];
  const others: Burst[] = [];
  starts_s
    .filter((start_s) => start_s + 120 < duration_s)
    .forEach((start_s, i) => {
      if (kind === 'hidden' && i % 3 === 2)
        others.push({ start_s: start_s - between(5, 20), end_s: start_s + between(45, 70), height_mA: 4 * height_mA });
      else
        members.push({
          start_s,
          end_s: start_s + length_s * between(0.97, 1.03),
          height_mA: height_mA * between(0.97, 1.03),
        });
    });
  const noise_mA = scaled(0.05, 1);
  const plan = { duration_s, base: [{ t_s: 0, level_mA: between(8, 45) }], bursts: [...members, ...others] };
  return {
    said: `${kind}, seed ${seed}: ${members.length} of ${height_mA.toFixed(0)} mA for ${length_s.toFixed(3)} s every ${period_s.toFixed(1)} s, ${windows ? 'windows' : 'points'}, noise ${noise_mA.toFixed(2)} mA`,
    trace: traceOf(plan, { step_s: windows ? 0.1 : 1, windows, noise_mA }, seed),
    members,
    others,
    period_s: kind === 'scattered' ? null : period_s,
  };
}

/** Whether every wake-up was found, the family told as one and whole, and its period right or rightly not told. */
export function scoreOf(
  { members, others, period_s }: RhythmNight,
  found: Findings,
): { found: boolean; family: boolean; period: boolean } {
  const at = ({ start_s }: Burst) => found.wakeups.filter((w) => Math.abs(w.start_s - start_s) <= TIME_S);
  const own = members.map(at);
  const all = found.wakeups.length === members.length + others.length;
  const ids = new Set(own.flat().map(({ family }) => family));
  const [id] = ids;
  const family = ids.size === 1 ? found.families.find((one) => one.id === id) : undefined;
  const told = found.families.map((one) => one.period_s).filter((one) => one !== null);
  return {
    found: all && own.every((some) => some.length === 1),
    family: family !== undefined && family.count === members.length,
    period:
      period_s === null
        ? told.length === 0
        : family !== undefined && family.period_s !== null && Math.abs(family.period_s / period_s - 1) <= PERIOD_SHARE,
  };
}
