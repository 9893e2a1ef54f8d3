// Whole simulated nights of every kind, scored against what they were drawn from.
// `npm test` runs some tens of nights, `npm run soak` hundreds. Truth: night.ts.

import { describe, expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import type { Findings } from '../../../host/contract/findings.ts';
import { courseOf, KINDS, nightOf, traceOf } from './night.ts';
import type { Kind, Night, Sampling } from './night.ts';

const NOISES_MA = [0.1, 0.3, 1, 3];
/** Points must hit a wake-up often enough for its length to be known. */
const SHORTEST_IN_POINTS_S = 2.2;

interface Count {
  hit: number;
  missed: number;
  extra: number;
}

const f1 = ({ hit, missed, extra }: Count) =>
  hit === 0 && missed + extra === 0 ? 1 : (2 * hit) / (2 * hit + missed + extra);

function pair<A, B>(wanted: A[], found: B[], fits: (a: A, b: B) => boolean, count: Count): [A, B][] {
  const free = [...found];
  const pairs: [A, B][] = [];
  for (const a of wanted) {
    const i = free.findIndex((b) => fits(a, b));
    if (i < 0) count.missed++;
    else pairs.push([a, free.splice(i, 1)[0]!]);
  }
  count.hit += pairs.length;
  count.extra += free.length;
  return pairs;
}

function trueCharge_mAh(night: Night): number {
  const { t_s, mA } = courseOf(night);
  let area = 0;
  mA.forEach((value, i) => (area += value * ((t_s[i + 1] ?? night.duration_s) - t_s[i]!)));
  return area / 3600;
}

interface Score {
  steps: Count;
  wakeups: Count;
  complaints: string[];
}

function judge(night: Night, found: Findings, sampling: Sampling, seed: number, score: Score): void {
  const say = (text: string) =>
    score.complaints.push(
      `${night.kind} seed ${seed} ${sampling.windows ? 'windows' : 'points'} ${sampling.noise_mA} mA: ${text}`,
    );
  const edge_s = 2 * sampling.step_s + (sampling.windows ? 0.5 : 0);
  const drops = night.base.slice(1).map((b, i) => ({ t_s: b.t_s, by_mA: b.level_mA - night.base[i]!.level_mA }));
  // A small step under much noise cannot be timed as well: about (sigma / step)^2 samples, several times over.
  const blur_s = (by_mA: number) => edge_s + 10 * sampling.step_s * (sampling.noise_mA / by_mA) ** 2;
  pair(
    drops,
    found.steps,
    (a, b) =>
      Math.abs(a.t_s - b.t_s) <= blur_s(a.by_mA) &&
      Math.abs(b.to_mA - b.from_mA - a.by_mA) <= 1.5 + 0.02 * Math.abs(a.by_mA),
    score.steps,
  );
  const pairs = pair(
    night.bursts,
    found.wakeups,
    (a, b) => Math.abs(a.start_s - b.start_s) <= edge_s && Math.abs(a.end_s - b.end_s) <= edge_s,
    score.wakeups,
  );
  for (const [burst, wakeup] of pairs) {
    const length_s = burst.end_s - burst.start_s;
    const wanted_mAh = (burst.height_mA * length_s) / 3600;
    const off = Math.abs(wakeup.charge_mAh / wanted_mAh - 1);
    // A point stands for a whole second: one in 34 is 3 %; and three sigmas of what noise adds in its length.
    const noise = (3 * sampling.noise_mA) / (burst.height_mA * Math.sqrt(length_s));
    if (off > Math.max(0.03, sampling.windows ? 0 : 1 / length_s + noise))
      say(`charge ${wakeup.charge_mAh} for ${wanted_mAh}`);
    if (wakeup.steps.length > 0) say('steps inside a plain wake-up');
  }
  if (found.dips.length > 0) say('a dip');
  const { asleep } = night;
  if ((asleep === null) !== (found.asleep === null)) say(`asleep ${JSON.stringify(found.asleep)}`);
  else if (asleep !== null && found.asleep !== null) {
    if (Math.abs(found.asleep.after_s - asleep.after_s) > 5)
      say(`asleep after ${found.asleep.after_s} for ${asleep.after_s}`);
    if (Math.abs(found.asleep.level_mA - asleep.level_mA) > 1.5)
      say(`level ${found.asleep.level_mA} for ${asleep.level_mA}`);
  }
  if (sampling.windows && Math.abs(found.charge.total_mAh / trueCharge_mAh(night) - 1) > 1e-4)
    say(`total ${found.charge.total_mAh} for ${trueCharge_mAh(night)}`);
  if (night.period_s !== null && night.bursts.length > 4) {
    const largest = found.families.reduce<Findings['families'][0] | null>(
      (a, b) => (a === null || b.count > a.count ? b : a),
      null,
    );
    if (!largest?.period_s || Math.abs(largest.period_s / night.period_s - 1) > 0.02)
      say(`period ${largest?.period_s} for ${night.period_s}`);
  }
}

describe('simulated nights', () => {
  const seeds = process.env['NIGHTDRAW_SOAK'] === '1' ? 200 : 2;
  test.each(
    KINDS.flatMap(
      (kind) =>
        [
          [kind, true],
          [kind, false],
        ] as [Kind, boolean][],
    ),
  )('%s, windows %s', (kind, windows) => {
    const score: Score = {
      steps: { hit: 0, missed: 0, extra: 0 },
      wakeups: { hit: 0, missed: 0, extra: 0 },
      complaints: [],
    };
    for (let seed = 1; seed <= seeds; seed++) {
      const night = nightOf(kind, seed);
      const noise_mA = NOISES_MA[seed % NOISES_MA.length]!;
      if (!windows) night.bursts = night.bursts.filter((b) => b.end_s - b.start_s > SHORTEST_IN_POINTS_S);
      const sampling: Sampling = windows
        ? { step_s: 0.05, windows, noise_mA: noise_mA / 3 }
        : { step_s: 1, windows, noise_mA };
      judge(night, analyse(traceOf(night, sampling, seed), DEFAULT_OPTIONS), sampling, seed, score);
    }
    expect(score.complaints).toEqual([]);
    expect(f1(score.steps)).toBeGreaterThanOrEqual(0.99);
    expect(f1(score.wakeups)).toBeGreaterThanOrEqual(0.99);
  });

  test('a quiet night: nothing at all after it went to sleep', () => {
    for (let seed = 1; seed <= (seeds > 50 ? 100 : 4); seed++) {
      const night = nightOf('quiet', 1000 + seed);
      const windows = seed % 2 === 0;
      const sampling: Sampling = {
        step_s: windows ? 0.05 : 1,
        windows,
        noise_mA: windows ? 1 : 3,
        drift: (t) => 2 * Math.sin(t / 5000 + seed),
      };
      const found = analyse(traceOf(night, sampling, seed), DEFAULT_OPTIONS);
      const late = [
        ...found.steps.map((s) => s.t_s),
        ...found.wakeups.map((w) => w.start_s),
        ...found.dips.map((d) => d.start_s),
      ].filter((t) => t > night.asleep!.after_s + 5);
      expect(late, `seed ${seed}`).toEqual([]);
    }
  });
});
