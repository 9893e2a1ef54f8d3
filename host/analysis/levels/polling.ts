// What the trains of a night say of themselves: how many pulses, how far apart, how long, and what they draw.
// Trains are part of their level (trains.ts); here they are counted, so that they can be told once, as a family.

import { median } from 'd3-array';
import type { Samples } from '../../contract/capture.ts';
import type { Family, WakeUp } from '../../contract/findings.ts';
import type { Ticks } from '../ticks/ticks.ts';
import { pulseIn } from './tick-trains.ts';
import { PULSES_MANY, sameHeight } from './trains.ts';
import type { Train } from './trains.ts';

/** Samples of all trains of a night that are looked through for pulses: a night of windows whole. */
const SAMPLES_COUNTED = 1 << 20;
/** Busy ticks of a longer train that are looked through all the same, in stretches of neighbours spread over it. */
const TICKS_COUNTED = 24;
const STRETCHES = 12;
/** Ticks without a pulse that their noise is taken from, at most and at least. */
const QUIET_TICKS = 256;
const QUIET_MIN = 8;
/**
 * Intervals within this share of the median one keep the period, so many of them make one, and its pulses account
 * for so much of the time.
 */
const FIT_SHARE = 0.15;
const FITTING = 0.75;
const ACCOUNTED = 0.9;
/** Two trains are of one family where their spacing, too, differs by no more than this ratio. */
const SAME_SPACING = 1.5;

/** The pulses of one train. Times in seconds from the first sample. */
export interface Polling {
  start_s: number;
  end_s: number;
  count: number;
  /** Usual spacing of two pulses, and whether it is kept. */
  spacing_s: number;
  steady: boolean;
  height_mA: number;
  /** Of all its pulses, over what lies between them. */
  charge_mAh: number;
}

/** The share of a night's trains that is looked through for pulses. */
export const shareCounted = (trains: readonly Train[], size: number) =>
  SAMPLES_COUNTED / (trains.reduce((sum, { busy }) => sum + busy.length, 1) * size);

/** Runs of neighbouring busy ticks that are looked through: all of them, or evenly spread stretches. */
function stretchesOf({ busy }: Train, share: number): number[][] {
  const most = Math.max(TICKS_COUNTED, share * busy.length);
  if (busy.length <= most) return [busy];
  const each = Math.floor(most / STRETCHES);
  return Array.from({ length: STRETCHES }, (_, i) => {
    const from = Math.floor((i * (busy.length - each)) / (STRETCHES - 1));
    return busy.slice(from, from + each);
  });
}

/** Within a ratio of each other. */
const within = (a: number, b: number, ratio: number) => a <= ratio * b && b <= ratio * a;

/** How far noise alone swings in the ticks of a train that hold no pulse, mA; 0 where all of them hold one. */
function quietSwing({ firstTick, endTick, busy }: Train, ticks: Ticks): number {
  const own = new Set(busy);
  const swings: number[] = [];
  // A tick beside a busy one may hold the rest of its pulse.
  for (let k = firstTick; k < endTick && swings.length < QUIET_TICKS; k++)
    if (!own.has(k - 1) && !own.has(k) && !own.has(k + 1)) swings.push(ticks.high[k]! - ticks.low[k]!);
  return swings.length < QUIET_MIN ? 0 : median(swings)!;
}

/**
 * Counts the pulses of a train, from the share of it that is looked through. O(samples in that share).
 *
 * @param highs highest current of each sample, mA; the means for points
 * @param at start of a sample, s
 * @param lift what pulses add to each tick, mA
 * @param share as `shareCounted` gives it
 */
export function pollingOf(
  train: Train,
  highs: Samples,
  ticks: Ticks,
  at: (sample: number) => number,
  lift: Float64Array,
  share: number,
): Polling {
  const quiet_mA = quietSwing(train, ticks);
  let counted = 0;
  let looked = 0;
  const intervals: number[] = [];
  for (const stretch of stretchesOf(train, share)) {
    let last_s: number | null = null;
    for (const k of stretch) {
      const { starts } = pulseIn(highs, ticks, k, quiet_mA);
      counted += starts.length;
      for (const i of starts) {
        const start_s = at(i);
        if (last_s !== null) intervals.push(start_s - last_s);
        last_s = start_s;
      }
    }
    looked += stretch.length;
  }
  const spacing_s = median(intervals) ?? 0;
  const fitting = intervals.filter((s) => Math.abs(s - spacing_s) <= FIT_SHARE * spacing_s);
  let charge_mAs = 0;
  for (let k = train.firstTick; k < train.endTick; k++)
    charge_mAs += lift[k]! * (ticks.clock_s[k + 1]! - ticks.clock_s[k]!);
  const count = Math.round((counted * train.busy.length) / Math.max(1, looked));
  const [start_s, end_s] = [at(train.from), at(train.to - 1)];
  return {
    start_s,
    end_s,
    count,
    spacing_s,
    steady:
      fitting.length >= FITTING * Math.max(1, intervals.length) &&
      within(count * spacing_s, end_s - start_s + spacing_s, 1 / ACCOUNTED),
    height_mA: Math.max(train.height_mA - quiet_mA, train.height_mA / 2),
    charge_mAh: charge_mAs / 3600,
  };
}

/**
 * The trains that do not lie in a wake-up, whose pulses are its own. O(trains + wake-ups).
 *
 * @param trains in order of time
 * @param wakeups in order of time
 */
export function pollingBeside(trains: readonly Polling[], wakeups: readonly { found: WakeUp }[]): Polling[] {
  let i = 0;
  return trains.filter(({ start_s, end_s }) => {
    const middle_s = (start_s + end_s) / 2;
    while (i < wakeups.length && wakeups[i]!.found.end_s < middle_s) i++;
    const over = wakeups[i]?.found;
    return over === undefined || over.start_s > start_s || over.end_s < end_s;
  });
}

/** Whether trains fill most of the time from the first to the last: what shows now and then is not counted. */
function isSeenThroughout(group: readonly Polling[]): boolean {
  const seen_s = group.reduce((sum, { start_s, end_s, spacing_s }) => sum + end_s - start_s + spacing_s, 0);
  return seen_s >= ACCOUNTED * (group.at(-1)!.end_s - group[0]!.start_s);
}

/**
 * Families of polling: trains of about the same height and spacing are one. Those of a dozen pulses and more
 * that keep a period and are seen throughout are told, in order of their first train: where two loads poll side by
 * side, or noise hides some, none can be counted. O(trains x families).
 *
 * @param firstId id of the first of them
 */
export function pollingFamilies(trains: readonly Polling[], firstId: number): Family[] {
  const groups: Polling[][] = [];
  for (const train of trains) {
    const own = groups.find(
      ([first]) =>
        sameHeight(first!.height_mA, train.height_mA) && within(first!.spacing_s, train.spacing_s, SAME_SPACING),
    );
    if (own === undefined) groups.push([train]);
    else own.push(train);
  }
  return groups
    .filter((group) => group.some(({ steady }) => steady) && isSeenThroughout(group))
    .map((group) => {
      const count = group.reduce((sum, one) => sum + one.count, 0);
      const most = group.filter(({ steady }) => steady).reduce((a, b) => (b.count > a.count ? b : a));
      const charge_mAh = count > 0 ? group.reduce((sum, one) => sum + one.charge_mAh, 0) / count : 0;
      const length_s = most.height_mA > 0 ? (charge_mAh * 3600) / most.height_mA : 0;
      return {
        count,
        period_s: most.spacing_s,
        period_chance: null,
        period_95_s: null,
        // As long as a pulse of the usual height needs for its charge: windows may be longer than a pulse.
        duration_s: Math.min(length_s, most.spacing_s),
        charge_mAh,
        polling: true,
      };
    })
    .filter(({ count }) => count >= PULSES_MANY)
    .map((family, i) => ({ id: firstId + i, ...family }));
}
