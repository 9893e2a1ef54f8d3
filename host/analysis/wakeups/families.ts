// Families of wake-ups that are alike, and the periods they keep. Two are alike when the ratios of
// their lengths and of their heights over the level before are near 1; a family grows around the
// running medians of its members. A period is accepted where the intervals between members are near
// whole multiples of it, many of them exactly one: then missed members do no harm.

import { median } from 'd3-array';
import type { Family } from '../../contract/findings.ts';

/** Members differ from the medians of their family by these ratios at most. */
const LENGTH_RATIO = 1.4;
const HEIGHT_RATIO = 1.3;
/** Start and end are known to within this many samples. */
const LENGTH_SAMPLES = 2;
/** An interval fits k periods when it is within this share of a period of them. */
const FIT_SHARE = 0.15;
/** Share of all intervals that must fit, and share that must be a single period. */
const FITTING = 0.85;
const SINGLE = 0.4;
/** The median interval must be nearer: within this share of a period. */
const TYPICAL_SHARE = 0.08;
/** Fewest members that can keep a period. */
const MEMBERS_FOR_PERIOD = 3;

/** What families are judged by: one wake-up, its height over the level before it, and its charge. */
export interface Occurrence {
  start_s: number;
  end_s: number;
  height_mA: number;
  charge_mAh: number;
}

/** Occurrences alike, as indices, and the medians that the next one is compared with. */
interface Group {
  members: number[];
  length_s: number;
  height_mA: number;
}

/** True when two values above 0 differ by at most `slack` or by at most the ratio. */
function alike(a: number, b: number, ratio: number, slack: number): boolean {
  const difference = Math.abs(a - b);
  return difference <= slack || difference <= (ratio - 1) * Math.min(a, b);
}

/** Groups of occurrences that are alike, in order of their first member. */
function groupsOf(occurrences: Occurrence[], resolution_s: number): Group[] {
  const groups: Group[] = [];
  occurrences.forEach((occurrence, i) => {
    const length_s = occurrence.end_s - occurrence.start_s;
    const slack_s = LENGTH_SAMPLES * resolution_s;
    let best: Group | null = null;
    let nearest = Infinity;
    for (const group of groups) {
      if (
        !alike(length_s, group.length_s, LENGTH_RATIO, slack_s) ||
        !alike(occurrence.height_mA, group.height_mA, HEIGHT_RATIO, 0)
      )
        continue;
      const distance =
        Math.abs(Math.log((length_s + slack_s) / (group.length_s + slack_s))) +
        Math.abs(Math.log(occurrence.height_mA / group.height_mA));
      if (distance < nearest) {
        nearest = distance;
        best = group;
      }
    }
    if (best === null) {
      groups.push({ members: [i], length_s, height_mA: occurrence.height_mA });
      return;
    }
    best.members.push(i);
    const recent = best.members.slice(-31).map((m) => occurrences[m]!);
    best.length_s = median(recent.map((e) => e.end_s - e.start_s))!;
    best.height_mA = median(recent.map((e) => e.height_mA))!;
  });
  return groups;
}

/**
 * The period near `guess_s` that these intervals keep, some of them several periods long; null where
 * they keep none.
 */
function refinePeriod(intervals: number[], guess_s: number): number | null {
  let period_s = guess_s;
  const periodsIn = (interval: number) => Math.max(1, Math.round(interval / period_s));
  for (let round = 0; round < 4; round++) {
    let time_s = 0;
    let periods = 0;
    for (const interval of intervals) {
      const k = periodsIn(interval);
      if (Math.abs(interval - k * period_s) > 2 * FIT_SHARE * period_s) continue;
      time_s += interval;
      periods += k;
    }
    if (periods === 0 || time_s === 0) return null;
    period_s = time_s / periods;
  }
  const misses = intervals.map((interval) => Math.abs(interval / period_s - periodsIn(interval)));
  const fitting = misses.filter((miss) => miss <= FIT_SHARE).length;
  const single = intervals.filter((interval) => Math.round(interval / period_s) === 1).length;
  const keeps =
    fitting >= FITTING * intervals.length && single >= SINGLE * intervals.length && median(misses)! <= TYPICAL_SHARE;
  return keeps ? period_s : null;
}

/**
 * The period in seconds of what starts at these times, some of it perhaps missed; null where no period
 * is kept, or for fewer than three. `starts_s` ascending. O(n log n).
 */
export function periodOf(starts_s: number[]): number | null {
  if (starts_s.length < MEMBERS_FOR_PERIOD) return null;
  const intervals = starts_s.slice(1).map((t, i) => t - starts_s[i]!);
  const middle = median(intervals)!;
  // Where many are missed, the median interval is two or three periods.
  for (const guess_s of [middle, middle / 2, middle / 3]) {
    const period_s = refinePeriod(intervals, guess_s);
    if (period_s !== null) return period_s;
  }
  return null;
}

/**
 * Families of two or more, with ids from 1 in order of first member, and for each occurrence the id of
 * its family or null. O(occurrences x families).
 *
 * @param occurrences in order of time
 * @param resolution_s spacing of the samples
 */
export function familiesOf(
  occurrences: Occurrence[],
  resolution_s: number,
): { families: Family[]; of: (number | null)[] } {
  const of: (number | null)[] = occurrences.map(() => null);
  const families: Family[] = [];
  for (const group of groupsOf(occurrences, resolution_s)) {
    if (group.members.length < 2) continue;
    const id = families.length + 1;
    const members = group.members.map((i) => occurrences[i]!);
    for (const i of group.members) of[i] = id;
    families.push({
      id,
      count: members.length,
      period_s: periodOf(members.map((e) => e.start_s)),
      duration_s: median(members.map((e) => e.end_s - e.start_s))!,
      charge_mAh: median(members.map((e) => e.charge_mAh))!,
    });
  }
  return { families, of };
}
