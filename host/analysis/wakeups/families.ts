// Families of wake-ups that are alike. Two are alike when the ratios of their lengths and of their heights
// over the level before are near 1; of those that fill a window or less, whose length and mean height
// depend on how the window cuts them, when their charges and peaks are. A family grows around the running
// medians of its members. The periods that families keep: periods.ts.

import { median } from 'd3-array';
import type { Family } from '../../contract/findings.ts';
import { periodOf } from './periods.ts';

/** Members differ from the medians of their family by these ratios at most. */
const LENGTH_RATIO = 1.4;
const HEIGHT_RATIO = 1.3;
/** Start and end are known to within this many samples. */
const LENGTH_SAMPLES = 2;
/** The charge of what is shorter than that is known to within this ratio: noise, and the level beside it. */
const CHARGE_RATIO = 1.3;

/** What families are judged by: one wake-up, its heights over the level before it, and its charge. */
export interface Occurrence {
  start_s: number;
  end_s: number;
  /** Mean over its length. */
  height_mA: number;
  /** Of its highest current; null where the samples do not show it. */
  top_mA: number | null;
  charge_mAh: number;
}

/** Occurrences alike, as indices, and the medians that the next one is compared with. */
interface Group {
  members: number[];
  length_s: number;
  height_mA: number;
  top_mA: number | null;
  charge_mAh: number;
}

/** True when two values above 0 differ by at most `slack` or by at most the ratio. */
function alike(a: number, b: number, ratio: number, slack: number): boolean {
  const difference = Math.abs(a - b);
  return difference <= slack || difference <= (ratio - 1) * Math.min(a, b);
}

/** Distance of two values above 0 as a ratio; 0 where they are equal. */
const apart = (a: number, b: number, slack = 0) => Math.abs(Math.log((a + slack) / (b + slack)));

/** How far an occurrence is from a group, null where they are not alike. O(1). */
function distanceTo(group: Group, one: Occurrence, resolution_s: number, windows: boolean): number | null {
  const length_s = one.end_s - one.start_s;
  const slack_s = LENGTH_SAMPLES * resolution_s;
  if (windows && length_s <= slack_s && group.length_s <= slack_s) {
    const sameTop = one.top_mA === null || group.top_mA === null || alike(one.top_mA, group.top_mA, HEIGHT_RATIO, 0);
    return sameTop && alike(one.charge_mAh, group.charge_mAh, CHARGE_RATIO, 0)
      ? apart(one.charge_mAh, group.charge_mAh)
      : null;
  }
  return alike(length_s, group.length_s, LENGTH_RATIO, slack_s) &&
    alike(one.height_mA, group.height_mA, HEIGHT_RATIO, 0)
    ? apart(length_s, group.length_s, slack_s) + apart(one.height_mA, group.height_mA)
    : null;
}

/** Groups of occurrences that are alike, in order of their first member. */
function groupsOf(occurrences: Occurrence[], resolution_s: number, windows: boolean): Group[] {
  const groups: Group[] = [];
  occurrences.forEach((occurrence, i) => {
    let best: Group | null = null;
    let nearest = Infinity;
    for (const group of groups) {
      const distance = distanceTo(group, occurrence, resolution_s, windows);
      if (distance === null || distance >= nearest) continue;
      nearest = distance;
      best = group;
    }
    if (best === null) {
      groups.push({ ...occurrence, members: [i], length_s: occurrence.end_s - occurrence.start_s });
      return;
    }
    best.members.push(i);
    const recent = best.members.slice(-31).map((m) => occurrences[m]!);
    best.length_s = median(recent, (e) => e.end_s - e.start_s)!;
    best.height_mA = median(recent, (e) => e.height_mA)!;
    best.top_mA = median(recent, (e) => e.top_mA) ?? null;
    best.charge_mAh = median(recent, (e) => e.charge_mAh)!;
  });
  return groups;
}

/**
 * Families of two or more, with ids from 1 in order of first member, and for each occurrence the id of
 * its family or null. O(occurrences x families).
 *
 * @param occurrences in order of time
 * @param resolution_s spacing of the samples
 * @param windows whether the samples are means of windows; false for points
 */
export function familiesOf(
  occurrences: Occurrence[],
  resolution_s: number,
  windows: boolean,
): { families: Family[]; of: (number | null)[] } {
  const of: (number | null)[] = occurrences.map(() => null);
  const families: Family[] = [];
  for (const group of groupsOf(occurrences, resolution_s, windows)) {
    if (group.members.length < 2) continue;
    const id = families.length + 1;
    const members = group.members.map((i) => occurrences[i]!);
    for (const i of group.members) of[i] = id;
    const period = periodOf(
      members.map((e) => e.start_s),
      resolution_s,
    );
    families.push({
      id,
      count: members.length,
      period_s: period?.period_s ?? null,
      period_chance: period?.chance ?? null,
      period_95_s: period?.period_95_s ?? null,
      duration_s: median(members.map((e) => e.end_s - e.start_s))!,
      charge_mAh: median(members.map((e) => e.charge_mAh))!,
      polling: false,
    });
  }
  return { families, of };
}
