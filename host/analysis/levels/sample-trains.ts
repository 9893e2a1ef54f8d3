// Trains of pulses in samples that are as far apart as ticks: a load that is on in every second or third reading.
// Then no tick swings, and no pulse returns within one; but over some dozen readings the currents fall into two
// groups far apart, and go from one to the other all the time. Other trains: tick-trains.ts.

import { median } from 'd3-array';
import { madSigma, sortInPlace } from '../ticks/scale.ts';
import type { Ticks } from '../ticks/ticks.ts';
import { longestPeriod, PULSES_MANY, sameHeight } from './trains.ts';
import type { Train } from './trains.ts';

/** Readings that are looked at together, and how far one look lies from the next. */
const BLOCK = 32;
const HOP = 8;
/** Least share of a block in each group. */
const GROUP_SHARE = 0.15;
/** The pause between the groups is so many times the spread of each (sigma from the MAD) at least. */
const APART = 6;
/** Most readings from one pulse to the next, on average. */
const PAUSE_MAX = 5;
/** The same where the block before was one of it and no pulse is longer: where pulses come at random they bunch. */
const PAUSE_ON = 11;
/** A reading of a block lies within this share of the pause between the groups of the middle of one of them. */
const NEAR_SHARE = 0.25;
/** Readings between two stretches of one train, where a change of level or a wake-up hides it. */
const HIDDEN = 2 * BLOCK;

/** Two groups of currents in a block, mA. */
interface Groups {
  low_mA: number;
  high_mA: number;
  /** Between them. */
  cut_mA: number;
}

/** The two groups that the values fall into, null where they do not. O(n log n). */
function groupsOf(values: Float64Array, least_mA: number): Groups | null {
  const sorted = sortInPlace(values.slice());
  const n = sorted.length;
  const least = Math.max(2, Math.floor(GROUP_SHARE * n));
  let at = least;
  for (let i = least; i <= n - least; i++) if (sorted[i]! - sorted[i - 1]! > sorted[at]! - sorted[at - 1]!) at = i;
  const gap_mA = sorted[at]! - sorted[at - 1]!;
  if (gap_mA < Math.max(least_mA, APART * madSigma(sorted.subarray(0, at)), APART * madSigma(sorted.subarray(at))))
    return null;
  return {
    low_mA: sorted[at >> 1]!,
    high_mA: sorted[(at + n) >> 1]!,
    cut_mA: (sorted[at]! + sorted[at - 1]!) / 2,
  };
}

/** The first of each run of values over the cut, and the longest run. */
function runsOver(values: Float64Array, cut_mA: number): { starts: number; longest: number } {
  let [starts, longest, run] = [0, 0, 0];
  for (const value of values) {
    run = value > cut_mA ? run + 1 : 0;
    if (run === 1) starts++;
    longest = Math.max(longest, run);
  }
  return { starts, longest };
}

/** A stretch of readings in which a load blinks. */
interface Stretch {
  from: number;
  to: number;
  heights_mA: number[];
  /** Longest run of readings in which it was on. */
  longest: number;
  busy: Set<number>;
  /** The groups of its first block, and of its last. */
  first: Groups;
  last: Groups;
}

/** The stretches in which the readings blink, in order of time. */
function stretchesOf(y: Float64Array, least_mA: number): Stretch[] {
  const out: Stretch[] = [];
  for (let from = 0; from + BLOCK <= y.length; from += HOP) {
    const to = from + BLOCK;
    const values = y.subarray(from, to);
    const groups = groupsOf(values, least_mA);
    if (groups === null) continue;
    const { starts, longest } = runsOver(values, groups.cut_mA);
    const height_mA = groups.high_mA - groups.low_mA;
    let own = out.at(-1);
    const alike = own !== undefined && from - own.to <= HIDDEN && sameHeight(height_mA, own.heights_mA[0]!);
    const pause = alike && longest <= own!.longest ? PAUSE_ON : PAUSE_MAX;
    if (starts * pause < BLOCK) continue;
    if (!alike)
      out.push((own = { from, to, heights_mA: [], longest: 0, busy: new Set(), first: groups, last: groups }));
    own!.to = to;
    own!.last = groups;
    own!.heights_mA.push(height_mA);
    own!.longest = Math.max(own!.longest, longest);
    values.forEach((value, i) => {
      if (value > groups.cut_mA) own!.busy.add(from + i);
    });
  }
  return out;
}

/** Whether a reading may be one of a block with these groups. */
const isLike = (value: number, { low_mA, high_mA }: Groups) =>
  Math.min(Math.abs(value - low_mA), Math.abs(value - high_mA)) <= NEAR_SHARE * (high_mA - low_mA);

/** Lets each stretch begin and end with the readings beside it that are like its own: a long run makes no block. */
function reachOut(stretches: Stretch[], y: Float64Array): void {
  stretches.forEach((own, n) => {
    const least = Math.max(stretches[n - 1]?.to ?? 0, own.from - BLOCK);
    const most = Math.min(stretches[n + 1]?.from ?? y.length, own.to + BLOCK);
    for (; own.from > least && isLike(y[own.from - 1]!, own.first); own.from--)
      if (y[own.from - 1]! > own.first.cut_mA) own.busy.add(own.from - 1);
    for (; own.to < most && isLike(y[own.to]!, own.last); own.to++)
      if (y[own.to]! > own.last.cut_mA) own.busy.add(own.to);
  });
}

/**
 * Trains of pulses in samples as far apart as ticks, in order of time; none where ticks hold several samples, or
 * where two of them are farther apart than a train's longest period. O(ticks).
 *
 * @param leastRise_mA least height of a pulse
 * @param hold_s shortest hold of a level, which bounds the period of a train
 */
export function trainsInSamples(ticks: Ticks, leastRise_mA: number, hold_s: number): Train[] {
  if (ticks.size > 1 || 2 * ticks.tick_s > longestPeriod(hold_s)) return [];
  const stretches = stretchesOf(ticks.mean, leastRise_mA);
  reachOut(stretches, ticks.mean);
  return stretches
    .filter(({ busy }) => busy.size >= PULSES_MANY)
    .map(({ from, to, heights_mA, longest, busy }) => {
      const on = [...busy].sort((a, b) => a - b);
      return {
        firstTick: from,
        endTick: to,
        from: ticks.start[on[0]!]!,
        to: ticks.start[on.at(-1)! + 1]!,
        busy: on,
        period_ticks: Math.max(1, Math.round((to - from) / on.length)),
        pulse_samples: longest,
        height_mA: median(heights_mA)!,
        inReadings: true,
      };
    });
}
