// The verdict: its code, by rules in a fixed order, and the sentence that a technician reads first.
// The sentence holds only numbers that stand in the findings.

import { against, count, current, time, times } from '../../say/quantities.ts';
import { median } from 'd3-array';
import type { Family, Findings, VerdictCode, WakeUp } from '../../contract/findings.ts';

const HOUR_S = 3600;
/** Asleep sooner than this counts as asleep from the start: going to sleep was not recorded. */
const AT_ONCE_S = 60;

/** What the verdict is made from. Times in seconds from the first sample. */
export interface VerdictFacts {
  duration_s: number;
  mean_mA: number;
  allowance_mA: number;
  asleep: Findings['asleep'];
  /** Highest level held for 30 min in sum since the car fell asleep; null where it never is. */
  highest: { level_mA: number; start_s: number } | null;
  wakeups: WakeUp[];
  families: Family[];
  lastLevel_mA: number | null;
}

/**
 * The code of the verdict. Not asleep: 'short' up to an hour, else 'awake'. Asleep: 'over' where a level
 * exceeds the allowance, 'wakes' where only the mean with its wake-ups does, else 'within'. O(1).
 */
export function codeOf(facts: VerdictFacts): VerdictCode {
  if (facts.asleep === null) return facts.duration_s <= HOUR_S ? 'short' : 'awake';
  if (facts.highest !== null && facts.highest.level_mA > facts.allowance_mA) return 'over';
  return facts.asleep.mean_mA > facts.allowance_mA ? 'wakes' : 'within';
}

/** The wake-ups since the car fell asleep in words: the family that cost most charge, or all of them. */
function wakeupsWords(late: WakeUp[], families: Family[]): string {
  const cost = (id: number) => late.filter((w) => w.family === id).reduce((sum, w) => sum + w.charge_mAh, 0);
  const main = families.reduce<Family | null>(
    (best, f) => (best === null || cost(f.id) > cost(best.id) ? f : best),
    null,
  );
  const members = main === null || cost(main.id) === 0 ? late : late.filter((w) => w.family === main.id);
  const period = main?.period_s && members !== late ? `, every ${time(main.period_s)}` : '';
  const shape = `${time(median(members.map((w) => w.end_s - w.start_s))!)} at ${current(median(members.map((w) => w.mean_mA))!)}`;
  const others = late.length - members.length;
  const rest = others === 0 ? '' : ` (and ${count(others)} other wake-up${others === 1 ? '' : 's'})`;
  return `${times(members.length)}${period}, ${shape}${rest}`;
}

function asleepWords(after_s: number, level: string): string {
  return `${after_s < AT_ONCE_S ? 'Asleep from the start' : `Asleep after ${time(after_s)}`} at ${level}`;
}

function notAsleep(code: VerdictCode, { duration_s, lastLevel_mA, mean_mA }: VerdictFacts): string {
  const last = lastLevel_mA === null ? '' : `, last at ${current(lastLevel_mA)}`;
  if (code === 'short')
    return `Too short to tell: ${time(duration_s)} recorded${last}; record at least one hour, better a whole night.`;
  return `The car did not fall asleep in ${time(duration_s)}: it settled nowhere for half an hour${last}, ${current(mean_mA)} on average.`;
}

/** The verdict as one sentence in English. O(wake-ups x families). */
export function sentenceOf(code: VerdictCode, facts: VerdictFacts): string {
  const { asleep, allowance_mA, families } = facts;
  if (asleep === null) return notAsleep(code, facts);
  const allowed = `the ${current(allowance_mA)} allowance`;
  const start = asleepWords(asleep.after_s, against(asleep.level_mA, allowance_mA));
  const late = facts.wakeups.filter((w) => w.start_s >= asleep.after_s);
  if (code === 'over') {
    const high = facts.highest!;
    if (high.start_s <= asleep.after_s) return `${start}, over ${allowed}.`;
    return `${start}, but from ${time(high.start_s)} on it drew ${against(high.level_mA, allowance_mA)}, over ${allowed}.`;
  }
  const mean = against(asleep.mean_mA, allowance_mA);
  if (code === 'wakes') {
    if (late.length === 0) return `${start}, but it averages ${mean} from then on, over ${allowed}.`;
    return `${start}. With its wake-ups it averages ${mean} from then on, over ${allowed}; it woke ${wakeupsWords(late, families)}.`;
  }
  if (late.length === 0) return `${start}, within ${allowed}; nothing woke it.`;
  return `${start}. With its wake-ups it averages ${mean} from then on, within ${allowed}; it woke ${wakeupsWords(late, families)}.`;
}
