// Scores the analysis of an outsider's night against its truth: what was found, missed
// and made up, and which figures are further off than is asked.

import type { Findings, Step, WakeUp } from '../../../host/contract/findings.ts';
import type { Drawn, TrueStep, TrueWake } from './outsider.ts';

export interface Tally {
  hit: number;
  missed: number;
  extra: number;
}

export interface Score {
  steps: Tally;
  wakes: Tally;
  dips: Tally;
  inner: Tally;
  /** Figures asked for: how many were checked, how many were off, and all complaints. */
  checked: number;
  wrong: number;
  complaints: string[];
}

export const emptyTally = (): Tally => ({ hit: 0, missed: 0, extra: 0 });
export const newScore = (): Score => ({
  steps: emptyTally(),
  wakes: emptyTally(),
  dips: emptyTally(),
  inner: emptyTally(),
  checked: 0,
  wrong: 0,
  complaints: [],
});
export const f1 = ({ hit, missed, extra }: Tally) =>
  hit + missed + extra === 0 ? 1 : (2 * hit) / (2 * hit + missed + extra);

/** Pairs each wanted one with the nearest free found one that fits. */
function pair<A, B>(
  wanted: A[],
  found: B[],
  distance: (a: A, b: B) => number,
  tally: Tally,
): { pairs: [A, B][]; missed: A[]; extra: B[] } {
  const options = wanted
    .flatMap((a) => found.map((b) => ({ a, b, d: distance(a, b) })))
    .filter(({ d }) => d <= 1)
    .sort((x, y) => x.d - y.d);
  const usedA = new Set<A>();
  const usedB = new Set<B>();
  const pairs: [A, B][] = [];
  for (const { a, b } of options) {
    if (usedA.has(a) || usedB.has(b)) continue;
    usedA.add(a);
    usedB.add(b);
    pairs.push([a, b]);
  }
  const missed = wanted.filter((a) => !usedA.has(a));
  const extra = found.filter((b) => !usedB.has(b));
  tally.hit += pairs.length;
  tally.missed += missed.length;
  tally.extra += extra.length;
  return { pairs, missed, extra };
}

const one = (x: number) => x.toPrecision(6).replace(/\.?0+$/, '');

export function judge(night: Drawn, found: Findings, score: Score): void {
  const { plan, truth, spacing_s } = night;
  const say = (text: string) =>
    score.complaints.push(
      `${plan.kind} ${plan.sampling} ${plan.load} seed ${plan.seed} noise ${one(plan.noise_mA)}/${plan.memory}/${one(plan.perLoad)} code ${plan.code_mA} drift ${one(plan.drift_mA)}${plan.gaps ? ' gaps' : ''}: ${text}`,
    );
  const check = (good: boolean, text: string) => {
    score.checked++;
    if (good) return;
    score.wrong++;
    say(text);
  };
  const sigma = plan.noise_mA / (plan.sampling === 'windows 50 ms' ? 7 : 1);
  const time_s = Math.max(1, 2 * spacing_s);
  // Even the best estimate of a small step's time in noise is off by some (sigma / step)^2 samples, the more so with
  // memory.
  const blur = (by_mA: number, near_mA: number) =>
    time_s +
    20 * spacing_s * ((sigma * (1 + plan.perLoad * near_mA)) / by_mA) ** 2 * ((1 + plan.memory) / (1 - plan.memory));
  // Levels beside a step are known from a minute or so on each side.
  const sizeNoise = (near_mA: number) =>
    2 *
    sigma *
    (1 + plan.perLoad * near_mA) *
    Math.sqrt((2 * Math.max(spacing_s, 1e-3) * (1 + plan.memory)) / (60 * (1 - plan.memory)));
  const stepsAway = (a: TrueStep, b: Step) =>
    Math.max(
      Math.abs(a.t_s - b.t_s) / blur(a.by_mA, Math.max(Math.abs(b.from_mA), Math.abs(b.to_mA))),
      Math.abs(b.to_mA - b.from_mA - a.by_mA) /
        (Math.max(1, 0.1 * Math.abs(a.by_mA)) + sizeNoise(Math.max(Math.abs(b.from_mA), Math.abs(b.to_mA)))),
    );
  const steps = pair(truth.steps, found.steps, stepsAway, score.steps);
  for (const s of steps.missed) say(`step of ${one(s.by_mA)} at ${one(s.t_s)} missed`);
  for (const s of steps.extra) say(`step ${one(s.from_mA)} to ${one(s.to_mA)} at ${one(s.t_s)} made up`);
  const wakesAway = (a: TrueWake, b: WakeUp) =>
    Math.max(Math.abs(a.start_s - b.start_s), Math.abs(a.end_s - b.end_s)) / time_s;
  const wakes = pair(truth.wakes, found.wakeups, wakesAway, score.wakes);
  for (const w of wakes.missed) say(`wake-up ${one(w.start_s)} to ${w.end_s.toFixed(3)} of ${one(w.height_mA)} missed`);
  for (const w of wakes.extra) say(`wake-up ${one(w.start_s)} to ${w.end_s.toFixed(3)} of ${one(w.peak_mA)} made up`);
  const lost_s = (a: TrueWake) => gapsIn(night, a);
  for (const [whole, b] of wakes.pairs) {
    const length_s = whole.end_s - whole.start_s;
    // What flowed in a gap is the gap's, not the wake-up's.
    const a = { ...whole, charge_mAh: whole.charge_mAh - lost_s(whole) };
    const noise_mAh =
      (4 *
        sigma *
        Math.sqrt((1 + plan.memory) / (1 - plan.memory)) *
        (1 + plan.perLoad * a.height_mA) *
        Math.sqrt(length_s * spacing_s + spacing_s * spacing_s)) /
      3600;
    // A window's mean is known to half a code at each end.
    const code_mAh = (plan.code_mA * spacing_s) / 3600;
    const edge =
      plan.sampling.startsWith('points') || plan.sampling.startsWith('raw') ? (a.top_mA * spacing_s) / 3600 : 0;
    const drift_mAh = (0.1 * Math.abs(plan.drift_mA) * length_s * Math.min(1, length_s / 3600)) / 3600;
    const load_mAh =
      (night.load_mA * Math.min(2, length_s + 0.2)) / 3600 + (plan.load === 'blink' ? (0.1 * 65) / 3600 : 0);
    check(
      Math.abs(b.charge_mAh - a.charge_mAh) <= 0.03 * a.charge_mAh + noise_mAh + code_mAh + edge + drift_mAh + load_mAh,
      `charge ${one(b.charge_mAh)} for ${one(a.charge_mAh)} of the wake-up at ${one(a.start_s)} to ${a.end_s.toFixed(3)}`,
    );
    const inner = pair(a.steps, b.steps, stepsAway, score.inner);
    for (const s of inner.missed) say(`inner step of ${one(s.by_mA)} at ${one(s.t_s)} missed`);
    for (const s of inner.extra)
      say(
        `inner step ${one(s.from_mA)} to ${one(s.to_mA)} at ${one(s.t_s)} made up (wake-up ${one(a.start_s)} to ${one(a.end_s)})`,
      );
  }
  const dips = pair(truth.dips, found.dips, wakesAway, score.dips);
  for (const w of dips.missed) say(`dip at ${one(w.start_s)} missed`);
  for (const w of dips.extra) say(`dip ${one(w.start_s)} to ${one(w.end_s)} made up`);
  judgeSleep(night, found, check);
  judgeCharge(night, found, check);
}

/** Charge above the level of a wake-up that gaps took. */
function gapsIn({ trace, spacing_s }: Drawn, wake: TrueWake): number {
  if (trace.time.kind === 'regular') return 0;
  const { t_s } = trace.time;
  const plain = trace.kind === 'points' ? Math.max(2, 5 * spacing_s) : 1.5 * spacing_s;
  let charge = 0;
  for (let i = 0; i + 1 < t_s.length; i++) {
    const [a, b] = [t_s[i]! + (trace.kind === 'points' ? 0 : spacing_s), t_s[i + 1]!];
    if (t_s[i + 1]! - t_s[i]! <= plain || b <= wake.start_s || a >= wake.end_s) continue;
    charge += (wake.heightAt((a + b) / 2) * (Math.min(b, wake.end_s) - Math.max(a, wake.start_s))) / 3600;
  }
  return charge;
}

function judgeSleep(night: Drawn, found: Findings, check: (good: boolean, text: string) => void): void {
  const { truth, plan } = night;
  let at = -1;
  let lowest = Infinity;
  const meanOf = (l: (typeof truth.levels)[number]) => {
    let drift = 0;
    for (let k = 0; k < 200; k++) drift += night.driftAt(l.start_s + ((k + 0.5) / 200) * (l.end_s - l.start_s)) / 200;
    return l.level_mA + night.load_mA + drift;
  };
  for (let i = truth.levels.length - 1; i >= 0; i--) {
    const level = truth.levels[i]!;
    if (level.held_s < 1800) continue;
    // A level's value is its mean, drift and all.
    if (meanOf(level) - lowest <= 10) at = i;
    lowest = Math.min(lowest, meanOf(level));
  }
  const level = truth.levels[at];
  // What lies just at a limit may fall on either side of it.
  const near =
    truth.levels.some((l, i) =>
      truth.levels
        .slice(i)
        .some((m) => l.held_s > 1700 && m.held_s > 1700 && Math.abs(meanOf(l) - meanOf(m) - 10) < 1.5),
    ) ||
    truth.levels.some((l) => Math.abs(l.held_s - 1800) < 60) ||
    (plan.gaps && truth.levels.some((l) => l.held_s > 1800 && l.held_s < 4000));
  if (near) return;
  check(
    (level === undefined) === (found.asleep === null),
    `asleep ${JSON.stringify(found.asleep)} for ${JSON.stringify(level ?? null)}`,
  );
  if (level === undefined || found.asleep === null) {
    if (level === undefined)
      check(found.verdict.code === (night.duration_s <= 3600 ? 'short' : 'awake'), `verdict ${found.verdict.code}`);
    return;
  }
  check(
    Math.abs(found.asleep.after_s - level.start_s) <= 5,
    `asleep after ${one(found.asleep.after_s)} for ${one(level.start_s)}`,
  );
  check(
    Math.abs(found.asleep.level_mA - meanOf(level)) <= 1.5,
    `level ${one(found.asleep.level_mA)} for ${one(meanOf(level))}`,
  );
  const over = Math.max(
    ...truth.levels
      .slice(at)
      .filter((l) => l.held_s >= 1800)
      .map(meanOf),
  );
  if (Math.abs(over - 50) > 2) {
    const samples = { area: 0, clock: 0 };
    const { trace } = night;
    for (let i = 0; i < trace.mean_mA.length; i++) {
      const t = trace.time.kind === 'regular' ? i * trace.time.step_s : trace.time.t_s[i]!;
      if (t >= level.start_s) {
        samples.area += trace.mean_mA[i]!;
        samples.clock++;
      }
    }
    const mean = samples.area / samples.clock;
    const code = over > 50 ? 'over' : mean > 50 ? 'wakes' : 'within';
    if (code === 'over' || Math.abs(mean - 50) > 1.5)
      check(found.verdict.code === code, `verdict ${found.verdict.code} for ${code}`);
  }
  if (truth.period_s !== null) {
    const main = found.families.reduce<(typeof found.families)[number] | null>(
      (best, f) => (best === null || f.count > best.count ? f : best),
      null,
    );
    check(
      Math.abs((main?.period_s ?? 0) / truth.period_s - 1) <= 0.02,
      `period ${main?.period_s} for ${one(truth.period_s)}`,
    );
  }
}

/** Charge by the written rules, summed plainly. */
function judgeCharge({ trace }: Drawn, found: Findings, check: (good: boolean, text: string) => void): void {
  const { mean_mA, time, dur_s } = trace;
  const at = (i: number) => (time.kind === 'regular' ? i * time.step_s : time.t_s[i]!);
  let total = 0;
  let spacing = 0;
  if (trace.kind === 'windows') for (let i = 0; i < mean_mA.length; i++) total += mean_mA[i]! * dur_s![i]!;
  else {
    spacing = at(1) - at(0);
    for (let i = 0; i + 1 < mean_mA.length; i++) {
      const s = at(i + 1) - at(i);
      if (s <= Math.max(2, 5 * spacing)) total += (s * (mean_mA[i]! + mean_mA[i + 1]!)) / 2;
    }
  }
  total = total / 3600 + trace.gaps.reduce((sum, g) => sum + (g.charge_mAh ?? 0), 0);
  const { total_mAh, going_to_sleep_mAh, asleep_mAh, wakeups_mAh, gaps_mAh } = found.charge;
  check(Math.abs(total_mAh / total - 1) <= 1e-4, `total ${total_mAh} for ${total}`);
  check(
    Math.abs(going_to_sleep_mAh + asleep_mAh + wakeups_mAh + (gaps_mAh ?? 0) - total_mAh) <=
      1e-9 * Math.max(1, Math.abs(total_mAh)),
    'charge parts do not add up',
  );
  const medianSpacing =
    time.kind === 'regular'
      ? time.step_s
      : [...time.t_s]
          .slice(1, 1000)
          .map((t, i) => t - time.t_s[i]!)
          .sort((a, b) => a - b)[400]!;
  check(
    found.trace.gaps.every((g) => g.end_s - g.start_s > Math.max(2, 5 * medianSpacing) - 1.01 * medianSpacing),
    `shows the gap ${JSON.stringify(found.trace.gaps.find((g) => g.end_s - g.start_s <= 2))}`,
  );
  const wakes = found.wakeups.reduce((sum, w) => sum + w.charge_mAh, 0);
  check(
    Math.abs(wakes - wakeups_mAh) <= 1e-9 * Math.max(1, wakes),
    `wake-ups sum to ${wakes}, bill says ${wakeups_mAh}`,
  );
}
