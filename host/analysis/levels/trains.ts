// What a train is: blinks and polling, pulses that follow each other within a few seconds, are
// part of the level they ride on, whose value is their mean. O(trains) a question.

import { tickAt } from '../ticks/ticks.ts';
import type { Ticks } from '../ticks/ticks.ts';

/**
 * "A few seconds": longest period of a blink or of polling; and as a share of the shortest hold, so that a train is a
 * level.
 */
const PERIOD_MAX_S = 5;
const PERIOD_PER_HOLD = 1 / 4;
/** Fewest pulses that make a train. */
export const PULSES_MIN = 4;
/** In a train, pulses up to this multiple of its own height are the train. */
export const TRAIN_HEIGHTS = 1.5;

/** Ticks first..end-1 are one train. */
export interface Train {
  firstTick: number;
  endTick: number;
  /** First sample of its first pulse, and the one after its last. */
  from: number;
  to: number;
  /** Ticks that hold its pulses, ascending. */
  busy: number[];
  /** Spacing of its pulses, in ticks; few are longer. */
  period_ticks: number;
  /** Length of its pulses, in samples; few are longer. */
  pulse_samples: number;
  /** Usual height of its pulses over their base. */
  height_mA: number;
}

export function longestPeriod(hold_s: number): number {
  return Math.min(PERIOD_MAX_S, hold_s * PERIOD_PER_HOLD);
}

/** The value that nine of ten do not exceed. */
export function upperDecile(values: number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.ceil(0.9 * sorted.length) - 1] ?? 0;
}

/** Is this excursion no more than a pulse of a train? */
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
