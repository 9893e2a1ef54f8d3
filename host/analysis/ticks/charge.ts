// Charge between any two samples. A window counts as mean x time; between points the trapezoid rule
// holds; gaps count nothing here. Running sums make the parts add up to the whole. O(samples) once
// for the sums over ticks, then O(samples in a tick) for each question.

import type { Trace } from '../../contract/capture.ts';
import type { Timeline } from './timeline.ts';
import { tickAt } from './ticks.ts';
import type { Ticks } from './ticks.ts';

const SECONDS_PER_HOUR = 3600;

/** Charge and time of any run of samples from..to-1. Each question costs O(samples in a tick). */
export interface Charges {
  /** Charge in mAh; for points, from point `from` to point `to`. */
  between(from: number, to: number): number;
  /** Charge above `base_mA`, mAh, with what the samples beside the run hold of its edges. */
  above(from: number, to: number, base_mA: number): number;
  /** Seconds that the samples cover, gaps left out. */
  covered_s(from: number, to: number): number;
}

/** Running area (mA s) and time (s) of points, between neighbours and up to the last point, gaps left out. */
function trapezoids(
  trace: Trace,
  line: Timeline,
  ticks: Ticks,
  isGap: Set<number>,
): { area: Float64Array; clock: Float64Array } {
  const values = trace.mean_mA;
  const area = new Float64Array(ticks.count + 1);
  const clock = new Float64Array(ticks.count + 1);
  for (let k = 0; k < ticks.count; k++) {
    const from = ticks.start[k]!;
    const to = ticks.start[k + 1]!;
    const last = to === line.samples || isGap.has(to - 1) ? to - 1 : to;
    let sum = 0;
    let time = 0;
    if (trace.time.kind === 'regular') {
      for (let i = from; i < last; i++) sum += values[i]!;
      if (last > from) sum += (values[last]! - values[from]!) / 2;
      sum *= line.spacing_s;
      time = (last - from) * line.spacing_s;
    } else {
      for (let i = from; i < last; i++) {
        const s = line.lasts(i);
        sum += (s * (values[i]! + values[i + 1]!)) / 2;
        time += s;
      }
    }
    area[k + 1] = area[k]! + sum;
    clock[k + 1] = clock[k]! + time;
  }
  return { area, clock };
}

/** Prepares the questions about the charge of a trace, from its own time axis and ticks. O(samples). */
export function chargesOf(trace: Trace, line: Timeline, ticks: Ticks): Charges {
  const values = trace.mean_mA;
  const { samples, windows } = line;
  const isGap = new Set(line.gapAfter);
  const seconds = (i: number): number => {
    if (windows) return line.lasts(i);
    return i + 1 >= samples || isGap.has(i) ? 0 : line.lasts(i);
  };
  const mean = (i: number): number => (windows || i + 1 >= samples ? values[i]! : (values[i]! + values[i + 1]!) / 2);
  const { area, clock } = windows
    ? { area: ticks.area_mAs, clock: ticks.clock_s }
    : trapezoids(trace, line, ticks, isGap);
  const upTo = (sums: Float64Array, part: (i: number) => number, i: number): number => {
    if (i <= 0 || ticks.count === 0) return 0;
    if (i >= samples) return sums[ticks.count]!;
    const k = tickAt(ticks, i);
    let sum = sums[k]!;
    for (let n = ticks.start[k]!; n < i; n++) sum += part(n);
    return sum;
  };
  const areaOf = (i: number) => seconds(i) * mean(i);
  return {
    between: (from, to) => (upTo(area, areaOf, to) - upTo(area, areaOf, from)) / SECONDS_PER_HOUR,
    covered_s: (from, to) => upTo(clock, seconds, to) - upTo(clock, seconds, from),
    above(from, to, base_mA) {
      const first = Math.max(0, from - 1);
      const last = Math.min(samples - 1, to);
      let sum =
        upTo(area, areaOf, to) -
        upTo(area, areaOf, from) -
        base_mA * (upTo(clock, seconds, to) - upTo(clock, seconds, from));
      const over = (i: number) => Math.max(0, values[i]! - base_mA);
      if (windows) {
        // The windows on both sides hold the rest of its edges; below the base they count nothing.
        if (first < from) sum += seconds(first) * over(first);
        if (last === to) sum += seconds(last) * over(last);
      } else {
        // Trapezoids up to its first point and down after its last one, none of them below the base.
        if (first < from) sum += (seconds(first) * (over(first) + values[from]! - base_mA)) / 2;
        if (last === to && to > from) sum += (seconds(to - 1) * (over(to) - (values[to]! - base_mA))) / 2;
      }
      return sum / SECONDS_PER_HOUR;
    },
  };
}
