// Puts device time onto the capture's own axis, run by run, and finds the holes.
//
// A run's clock is a list of knots between which time is interpolated; beyond
// the ends the nearest piece goes on. One knot alone means that the board's
// clock is taken as it is.

import type { WindowColumns } from './blocks.ts';
import { WINDOW_FLAG } from './types.ts';
import type { ClockKnot, Gap } from './types.ts';

/** From device time of one run to the capture's axis, both in microseconds. */
export type ToAxis = (t_us: number) => number;

/** @param knots ascending in `t_us`; none at all puts device time 0 at axis 0. */
export function axisOf(knots: readonly ClockKnot[]): ToAxis {
  const first = knots[0];
  if (first === undefined) return (t_us) => t_us;
  if (knots.length === 1) return (t_us) => first.axis_us + (t_us - first.t_us);
  let piece = 0;
  return (t_us) => {
    // Readings ascend, so the piece is nearly always the one of the call before.
    while (piece < knots.length - 2 && t_us >= knots[piece + 1]!.t_us) piece++;
    while (piece > 0 && t_us < knots[piece]!.t_us) piece--;
    const a = knots[piece]!, b = knots[piece + 1]!;
    const rate = (b.axis_us - a.axis_us) / (b.t_us - a.t_us);
    return a.axis_us + (t_us - a.t_us) * rate;
  };
}

/** A run's share of the window columns: indices [from, to). */
export interface RunSlice {
  from: number;
  to: number;
  toAxis: ToAxis;
  run: number;
}

/** Where the windows lie on the axis: start and length of each, seconds from axis zero. */
export function placeWindows(w: WindowColumns, slices: readonly RunSlice[]): { start_s: Float64Array; dur_s: Float64Array } {
  const start_s = new Float64Array(w.t_us.length);
  const dur_s = new Float64Array(w.t_us.length);
  for (const { from, to, toAxis } of slices) {
    for (let i = from; i < to; i++) {
      const start_us = toAxis(w.t_us[i]! - w.dur_us[i]!);
      start_s[i] = start_us / 1e6;
      dur_s[i] = (toAxis(w.t_us[i]!) - start_us) / 1e6;
    }
  }
  return { start_s, dur_s };
}

/**
 * Stretches between windows that no window covers.
 *
 * Within a run the running charge tells what flowed: the charge at the end of
 * the first window after the gap, less that at the end of the last one before,
 * less what the first window after took itself. Between runs nobody knows, nor
 * after a fault of the board, which its charge does not count (PROTOCOL.md, flag bit 5).
 */
export function gapsOfWindows(w: WindowColumns, slices: readonly RunSlice[], start_s: Float64Array, dur_s: Float64Array): Gap[] {
  const gaps: Gap[] = [];
  slices.forEach(({ from, to }, run) => {
    const first = run === 0 ? from + 1 : from;
    for (let i = first; i < to; i++) {
      if (i > from && w.t_us[i]! - w.dur_us[i]! <= w.t_us[i - 1]!) continue;
      const end_s = start_s[i - 1]! + dur_s[i - 1]!;
      if (start_s[i]! <= end_s) continue;
      gaps.push({ start_s: end_s, end_s: start_s[i]!, charge_mAh: i > from && (w.flags[i]! & WINDOW_FLAG.notJoined) === 0 ? chargeBetween_mAh(w, i, dur_s[i]!) : null });
    }
  });
  return gaps;
}

/** What lies so close to a gap tells what the car drew in it, as far as anything does. */
const AROUND_S = 60;

/**
 * Adds to gaps of unknown charge between which values it lies if the car went on as
 * around it, and to each how sure its length is.
 * @param start_s starts of the windows on the trace, ascending, as are the gaps
 * @param doubts by the end of a gap, where its length is not sure
 */
export function estimated(w: WindowColumns, start_s: Float64Array, gaps: readonly Gap[], doubts: ReadonlyMap<number, number | null>): Gap[] {
  return gaps.map((gap) => {
    const doubt = doubts.get(gap.end_s);
    const sure = doubt === undefined ? {} : { uncertain_s: doubt };
    if (gap.charge_mAh !== null) return { ...gap, ...sure };
    let low = Infinity, high = -Infinity;
    for (let i = firstFrom(start_s, gap.start_s - AROUND_S); i < start_s.length && start_s[i]! < gap.end_s + AROUND_S; i++) {
      low = Math.min(low, w.mean_uA[i]!);
      high = Math.max(high, w.mean_uA[i]!);
    }
    if (low > high) return { ...gap, ...sure };
    const hours = (gap.end_s - gap.start_s) / 3600, spread = (doubt ?? 0) / 3600;
    const inTime = (mean_uA: number, wider: number) => (mean_uA / 1000) * (hours + (mean_uA > 0 ? wider : -wider));
    return { ...gap, ...sure, estimate_mAh: { low: inTime(low, -spread), high: inTime(high, spread) } };
  });
}

/** Index of the first of ascending values that is at or past `value`. */
function firstFrom(values: Float64Array, value: number): number {
  let low = 0, high = values.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (values[middle]! < value) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** nC of device time, brought to true time by the ratio of both, in mAh. */
function chargeBetween_mAh(w: WindowColumns, i: number, dur_s: number): number {
  const own_nC = (w.mean_uA[i]! * w.dur_us[i]!) / 1000;
  const charge_nC = w.charge_nC[i]! - w.charge_nC[i - 1]! - own_nC;
  const trueTime = w.dur_us[i]! > 0 ? (dur_s * 1e6) / w.dur_us[i]! : 1;
  return (charge_nC * trueTime) / 3.6e9;
}

/**
 * Gaps of points: a spacing of more than five times the median one and more
 * than 2 s. Their charge is not known.
 */
export function gapsOfPoints(t_s: Float64Array): Gap[] {
  const LEAST_S = 2;
  const wide: number[] = [];
  for (let i = 1; i < t_s.length; i++) if (t_s[i]! - t_s[i - 1]! > LEAST_S) wide.push(i);
  if (wide.length === 0) return [];
  const limit_s = 5 * medianSpacing(t_s);
  return wide
    .filter((i) => t_s[i]! - t_s[i - 1]! > limit_s)
    .map((i) => ({ start_s: t_s[i - 1]!, end_s: t_s[i]!, charge_mAh: null }));
}

function medianSpacing(t_s: Float64Array): number {
  const spacing = new Float64Array(t_s.length - 1);
  for (let i = 0; i < spacing.length; i++) spacing[i] = t_s[i + 1]! - t_s[i]!;
  return spacing.sort()[spacing.length >> 1]!;
}
