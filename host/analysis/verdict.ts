// The verdict: its code by the project's order of rules, and the sentence a technician
// reads first. The sentence holds only numbers that stand in the findings. O(findings).

import type { Family, Findings, VerdictCode, WakeUp } from './findings.ts';

const HOUR_S = 3600;

export interface VerdictFacts {
  duration_s: number;
  mean_mA: number;
  allowance_mA: number;
  asleep: Findings['asleep'];
  /** Mean from `asleep.after_s` on, gaps left out. */
  meanAsleep_mA: number;
  /** Highest level held 30 min in sum from `after_s` on, and when it began. */
  highest: { level_mA: number; start_s: number } | null;
  wakeups: WakeUp[];
  families: Family[];
  lastLevel_mA: number | null;
}

export function codeOf(facts: VerdictFacts): VerdictCode {
  if (facts.asleep === null) return facts.duration_s <= HOUR_S ? 'short' : 'awake';
  if (facts.highest !== null && facts.highest.level_mA > facts.allowance_mA) return 'over';
  return facts.meanAsleep_mA > facts.allowance_mA ? 'wakes' : 'within';
}

/** 19, 6.4, 0.35: as many digits as a technician wants. */
export function current(mA: number): string {
  const size = Math.abs(mA);
  if (size >= 1000) return `${(mA / 1000).toFixed(1)} A`;
  return `${mA.toFixed(size >= 10 ? 0 : 1)} mA`;
}

export function time(seconds: number): string {
  if (seconds < 1) return `${Math.max(1, Math.round(seconds * 1000))} ms`;
  if (seconds < 90) return `${seconds.toFixed(seconds < 9.95 ? 1 : 0).replace(/\.0$/, '')} s`;
  if (seconds < 120 * 60) return `${Math.round(seconds / 60)} min`;
  return `${(seconds / HOUR_S).toFixed(1)} h`;
}

function median(values: number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[sorted.length >> 1] ?? 0;
}

/** Of two figures that round to the same, more digits, so that "x is over y" never reads "50 over 50". */
function against(value_mA: number, allowance_mA: number): string {
  const plain = current(value_mA);
  if (plain !== current(allowance_mA)) return plain;
  return value_mA === allowance_mA ? plain : `${value_mA.toFixed(2)} mA`;
}

/** What the wake-ups after sleep did: the family that cost most, or all of them. */
function wakeupsWords(facts: VerdictFacts, after_s: number): string {
  const late = facts.wakeups.filter((w) => w.start_s >= after_s);
  const cost = (id: number) => late.filter((w) => w.family === id).reduce((sum, w) => sum + w.charge_mAh, 0);
  const main = facts.families.reduce<Family | null>((best, f) => (best === null || cost(f.id) > cost(best.id) ? f : best), null);
  const members = main === null || cost(main.id) === 0 ? late : late.filter((w) => w.family === main.id);
  const times = members.length === 1 ? 'once' : `${members.length} times`;
  const period = main?.period_s && members !== late ? `, about every ${time(main.period_s)}` : '';
  const shape = `${time(median(members.map((w) => w.end_s - w.start_s)))} at ${current(median(members.map((w) => w.mean_mA)))}`;
  const others = late.length - members.length;
  const rest = others === 0 ? '' : ` (and ${others} other${others === 1 ? '' : 's'})`;
  return `${times}${period}, ${shape}${rest}`;
}

function asleepWords(asleep: { after_s: number; level_mA: number }): string {
  const when = asleep.after_s < 60 ? 'Asleep from the start' : `Asleep after ${time(asleep.after_s)}`;
  return `${when} at ${current(asleep.level_mA)}`;
}

export function sentenceOf(code: VerdictCode, facts: VerdictFacts): string {
  const { asleep, allowance_mA } = facts;
  const allowed = `the ${current(allowance_mA)} allowance`;
  if (asleep === null) {
    const now = facts.lastLevel_mA === null ? '' : `, last at ${current(facts.lastLevel_mA)}`;
    if (code === 'short') return `Too short to tell: ${time(facts.duration_s)} recorded${now}; record at least one hour, better a whole night.`;
    return `The car did not fall asleep in ${time(facts.duration_s)}: no level was held for 30 min that it did not fall from${now}; the mean was ${current(facts.mean_mA)}.`;
  }
  const start = asleepWords(asleep);
  const late = facts.wakeups.filter((w) => w.start_s >= asleep.after_s);
  if (code === 'over') {
    const high = facts.highest!;
    if (high.start_s <= asleep.after_s) return `${start}, over ${allowed}.`.replace(current(asleep.level_mA), against(asleep.level_mA, allowance_mA));
    return `${start}, but from ${time(high.start_s)} on it drew ${against(high.level_mA, allowance_mA)}, over ${allowed}.`;
  }
  const mean = against(facts.meanAsleep_mA, allowance_mA);
  if (code === 'wakes') {
    if (late.length === 0) return `${start}, but the average from then on is ${mean}, over ${allowed}.`;
    return `${start}; wake-ups lift the average to ${mean}, over ${allowed}: ${wakeupsWords(facts, asleep.after_s)}.`;
  }
  if (late.length === 0) return `${start}, within ${allowed}; nothing woke it.`;
  return `${start}; with its wake-ups the average is ${mean}, within ${allowed}: ${wakeupsWords(facts, asleep.after_s)}.`;
}
