// The trace in ticks: blocks of neighbouring samples, about a twentieth of the shortest
// hold each, with their mean, range and time. All later searching works on these and
// goes back to the samples only around an edge or a pulse. One pass, O(samples).

import type { Trace } from '../../contract/capture.ts';
import type { Timeline } from './timeline.ts';

/** Ticks in the shortest hold of a level. */
const TICKS_PER_HOLD = 20;

export interface Ticks {
  readonly count: number;
  /** First sample of each tick; `start[count]` is the number of samples. */
  readonly start: Int32Array;
  readonly mean: Float64Array;
  /** Lowest and highest current seen in the tick; from the windows' own range where they have one. */
  readonly low: Float64Array;
  readonly high: Float64Array;
  /** Seconds before each tick, gaps left out; `clock_s[count]` is the whole. */
  readonly clock_s: Float64Array;
  /** Current times time before each tick, mA s; for time-weighted means. */
  readonly area_mAs: Float64Array;
  /** Samples in a full tick. */
  readonly size: number;
  /** Median length of a tick. */
  readonly tick_s: number;
}

function tickStarts(line: Timeline, size: number): Int32Array {
  const { samples, gapAfter } = line;
  const starts = new Int32Array(Math.ceil(samples / size) + gapAfter.length + 1);
  let count = 0;
  let from = 0;
  for (let g = 0; g <= gapAfter.length; g++) {
    const to = g < gapAfter.length ? gapAfter[g]! + 1 : samples;
    // What is left over at the end joins the last tick, if it is less than half of one.
    for (let i = from; i < to && (i === from || to - i >= size / 2); i += size) starts[count++] = i;
    from = to;
  }
  starts[count] = samples;
  return starts.slice(0, count + 1);
}

/** Throws a RangeError naming the first sample between `from` and `to` that is not a finite number. */
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

/** Throws a RangeError that names the sample where a value is not finite. */
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

/** The tick that holds sample i. O(log ticks). */
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
