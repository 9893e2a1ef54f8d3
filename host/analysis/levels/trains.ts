// The definition of a train, with its thresholds: pulses that follow one another within a few seconds,
// such as a blinking lamp or a polling receiver. A train is part of the level it rides on, and the
// value of that level is its mean.

import { median } from 'd3-array';
import { tickAt } from '../ticks/ticks.ts';
import type { Ticks } from '../ticks/ticks.ts';

/** Longest period of a train, s: 10, and what it may stray. */
const PERIOD_MAX_S = 10.5;
/** The same as a share of the shortest hold, so that pulses fit into the shortest level. */
const PERIOD_PER_HOLD = 0.525;
/** Fewest pulses that make a train, and those with which it must be where they follow within half of that. */
export const PULSES_MIN = 4;
export const PULSES_MANY = 12;
/** Pulses up to this multiple of a train's usual height belong to it. */
export const TRAIN_HEIGHTS = 1.5;

/** Pulses that follow one another, in ticks firstTick..endTick-1. */
export interface Train {
  firstTick: number;
  endTick: number;
  /** First sample of its first pulse, and the one after its last. */
  from: number;
  to: number;
  /** Ticks that hold its pulses, ascending. */
  busy: number[];
  /** Spacing of its pulses, in ticks; nine of ten are no longer. */
  period_ticks: number;
  /** Length of its pulses, in samples; nine of ten are no longer. */
  pulse_samples: number;
  /** Usual height of its pulses over their base. */
  height_mA: number;
  /** Each tick is a reading, and the load is on in some of them. */
  inReadings?: true;
}

/** Longest time from one pulse of a train to the next, s, for the shortest hold of a level. */
export function longestPeriod(hold_s: number): number {
  return Math.min(PERIOD_MAX_S, hold_s * PERIOD_PER_HOLD);
}

/**
 * Whether pulses that begin at these times are enough for a train: four where nine of ten follow within half of
 * the longest period, a dozen where half of them follow within that, since some may be missed. O(n log n).
 */
export function isTrain(starts: readonly number[], longest: number): boolean {
  if (starts.length < PULSES_MIN) return false;
  const spacings = starts.slice(1).map((at, i) => at - starts[i]!);
  return upperDecile(spacings) <= longest / 2 || (starts.length >= PULSES_MANY && median(spacings)! <= longest);
}

/** True when two usual heights, both above 0, may be those of one train's pulses. */
export const sameHeight = (a_mA: number, b_mA: number): boolean =>
  Math.max(a_mA, b_mA) <= TRAIN_HEIGHTS * Math.min(a_mA, b_mA);

/** The value that nine of ten do not exceed; 0 for no values. O(n log n). */
export function upperDecile(values: number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.ceil(0.9 * sorted.length) - 1] ?? 0;
}

/**
 * True when samples from..to-1, which stand out by `height_mA`, are no more than a pulse of one of the
 * trains: in its time, and not much longer or higher than its pulses. O(trains + log ticks).
 */
export function isOfTrain(from: number, to: number, height_mA: number, trains: Train[], ticks: Ticks): boolean {
  if (trains.length === 0) return false;
  const first = tickAt(ticks, from);
  const last = tickAt(ticks, to - 1);
  return trains.some(
    (t) =>
      first >= t.firstTick - 1 &&
      last <= t.endTick &&
      to - from <= 1.5 * t.pulse_samples + 2 &&
      height_mA <= TRAIN_HEIGHTS * t.height_mA,
  );
}
