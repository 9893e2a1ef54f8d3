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
