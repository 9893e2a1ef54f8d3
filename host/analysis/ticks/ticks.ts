// The trace in ticks: blocks of neighbouring samples, each about a twentieth of the shortest hold,
// with their mean, range and time. Everything later searches the ticks and goes back to the samples
// only around an edge or a pulse. One pass, O(samples).

import type { Trace } from '../../contract/capture.ts';
import type { Timeline } from './timeline.ts';

/** Ticks in the shortest hold of a level. */
const TICKS_PER_HOLD = 20;

/** The ticks of a trace. No tick reaches across a gap. Currents in mA. */
export interface Ticks {
  readonly count: number;
  /** First sample of each tick; `start[count]` is the number of samples. */
  readonly start: Int32Array;
  readonly mean: Float64Array;
  /** Lowest and highest current in the tick, from the windows' own range where they have one. */
  readonly low: Float64Array;
  readonly high: Float64Array;
  /** Seconds of samples before each tick, gaps left out; `clock_s[count]` is the whole trace. */
  readonly clock_s: Float64Array;
  /** Sum of current times time before each tick, mA s; for time-weighted means. */
  readonly area_mAs: Float64Array;
  /** Samples in a full tick. */
  readonly size: number;
  /** Usual length of a tick, s. */
  readonly tick_s: number;
}

function tickStarts(line: Timeline, size: number): Int32Array {
  const { samples, gapAfter } = line;
  const starts = new Int32Array(Math.ceil(samples / size) + gapAfter.length + 1);
  let count = 0;
  let from = 0;
  for (let g = 0; g <= gapAfter.length; g++) {
    const to = g < gapAfter.length ? gapAfter[g]! + 1 : samples;
    // A remainder of less than half a tick joins the last full one.
    for (let i = from; i < to && (i === from || to - i >= size / 2); i += size) starts[count++] = i;
    from = to;
  }
  starts[count] = samples;
  return starts.slice(0, count + 1);
}

/** @throws RangeError that names the first sample of from..to-1 that is not a finite number */
function throwNotFinite(trace: Trace, from: number, to: number): never {
  for (const [name, values] of [
    ['current', trace.mean_mA],
    ['lowest current', trace.min_mA],
    ['highest current', trace.max_mA],
    ['length', trace.dur_s],
  ] as const) {
    for (let i = from; values && i < to; i++) {
      if (!Number.isFinite(values[i]))
        throw new RangeError(`sample ${i} has the ${name} ${values[i]}; remove it or leave a gap`);
    }
  }
  throw new RangeError(
    `samples ${from} to ${to - 1} sum to more than a number can hold; check the unit of the current column`,
  );
}

function checkLengths(trace: Trace): void {
  const samples = trace.mean_mA.length;
  for (const [name, values] of [
    ['min_mA', trace.min_mA],
    ['max_mA', trace.max_mA],
    ['dur_s', trace.dur_s],
  ] as const) {
    if (values && values.length !== samples) {
      throw new RangeError(`${name} has ${values.length} values for ${samples} samples; give one for each sample`);
    }
  }
}

/**
 * Divides a trace into ticks. O(samples).
 *
 * @param line time axis of the same trace
 * @param hold_s shortest hold of a level; a tick is a twentieth of it, and one sample at least
 * @throws RangeError that names the sample where a value is not finite, or the column whose length
 * differs from the number of samples
 */
export function ticksOf(trace: Trace, line: Timeline, hold_s: number): Ticks {
  checkLengths(trace);
  const size = Math.max(1, Math.floor(hold_s / TICKS_PER_HOLD / Math.max(line.spacing_s, 1e-9)));
  const start = tickStarts(line, size);
  const count = start.length - 1;
  const mean = new Float64Array(count);
  const low = new Float64Array(count);
  const high = new Float64Array(count);
  const clock_s = new Float64Array(count + 1);
  const area_mAs = new Float64Array(count + 1);
  const values = trace.mean_mA;
  const lows = trace.min_mA ?? values;
  const highs = trace.max_mA ?? values;
  const { dur_s } = trace;
  const regular = trace.time.kind === 'regular';
  for (let k = 0; k < count; k++) {
    const from = start[k]!;
    const to = start[k + 1]!;
    let sum = 0;
    let lowest = Infinity;
    let highest = -Infinity;
    let odd = 0;
    for (let i = from; i < to; i++) {
      const lo = lows[i]!;
      const hi = highs[i]!;
      sum += values[i]!;
      odd += hi - lo;
      if (lo < lowest) lowest = lo;
      if (hi > highest) highest = hi;
    }
    let seconds = regular ? (to - from) * line.spacing_s : 0;
    let area = sum * line.spacing_s;
    if (dur_s !== null) {
      seconds = area = 0;
      for (let i = from; i < to; i++) {
        seconds += dur_s[i]!;
        area += dur_s[i]! * values[i]!;
      }
    } else if (!regular) {
      area = 0;
      for (let i = from; i < to; i++) {
        const lasts_s = line.lasts(i);
        seconds += lasts_s;
        area += lasts_s * values[i]!;
      }
    }
    if (!Number.isFinite(sum + odd + area)) throwNotFinite(trace, from, to);
    mean[k] = sum / (to - from);
    low[k] = lowest;
    high[k] = highest;
    clock_s[k + 1] = clock_s[k]! + seconds;
    area_mAs[k + 1] = area_mAs[k]! + area;
  }
  return { count, start, mean, low, high, clock_s, area_mAs, size, tick_s: size * line.spacing_s };
}

/** Index of the tick that holds sample i; the last one for i beyond the end. O(log ticks). */
export function tickAt(ticks: Ticks, i: number): number {
  let from = 0;
  let to = ticks.count;
  while (to - from > 1) {
    const middle = (from + to) >> 1;
    if (ticks.start[middle]! <= i) from = middle;
    else to = middle;
  }
  return from;
}
