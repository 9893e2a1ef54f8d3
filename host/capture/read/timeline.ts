// Puts device time onto the capture's own axis, run by run, and finds the holes.
//
// A run's clock is a list of knots between which time is interpolated; beyond
// the ends the nearest piece goes on. One knot alone means that the board's
// clock is taken as it is.

import { bisectLeft } from 'd3-array';
import type { WindowColumns } from '../format/blocks.ts';
import type { Correction } from './calibrated.ts';
import { WINDOW_FLAG } from '../../contract/capture.ts';
import type { ClockKnot, Gap, Samples } from '../../contract/capture.ts';

/** From device time of one run to the capture's axis, both in microseconds. */
export class AxisMap {
  private piece = 0;

  /**
   * @param knots ascending in `t_us`; none at all puts device time 0 at axis 0
   * @param shift_us added to every axis time
   */
  constructor(
    private readonly knots: readonly ClockKnot[],
    private readonly shift_us: number,
  ) {}

  at(t_us: number): number {
    const { knots, shift_us } = this;
    const first = knots[0];
    if (first === undefined) return t_us + shift_us;
    if (knots.length === 1) return first.axis_us + (t_us - first.t_us) + shift_us;
    // Readings ascend, so the piece is nearly always the one of the call before.
    while (this.piece < knots.length - 2 && t_us >= knots[this.piece + 1]!.t_us) this.piece++;
    while (this.piece > 0 && t_us < knots[this.piece]!.t_us) this.piece--;
    const a = knots[this.piece]!,
      b = knots[this.piece + 1]!;
    const rate = (b.axis_us - a.axis_us) / (b.t_us - a.t_us);
    return a.axis_us + (t_us - a.t_us) * rate + shift_us;
  }

  /**
   * Many ascending times at once, to seconds from `zero_s`: `out[at + i]` is the place of `t_us[i]`.
   * Piece by piece, since a raw night has forty million of them.
   */
  place(t_us: Float64Array, count: number, out: Float64Array, at: number, zero_s: number): void {
    const { knots, shift_us } = this;
    let i = 0;
    while (i < count) {
      this.at(t_us[i]!);
      const next = this.piece < knots.length - 2 ? knots[this.piece + 1]!.t_us : Infinity;
      const a = knots[this.piece],
        b = knots[this.piece + 1];
      const rate = a === undefined || b === undefined ? 1 : (b.axis_us - a.axis_us) / (b.t_us - a.t_us);
      // From the knot on, not from the first time given: a reading's place depends on no block that it lies in.
      const from_us = a?.t_us ?? 0,
        from_s = ((a?.axis_us ?? 0) + shift_us) / 1e6 - zero_s,
        perTick_s = rate / 1e6;
      for (; i < count && t_us[i]! < next; i++) out[at + i] = from_s + (t_us[i]! - from_us) * perTick_s;
    }
  }
}

/** A run's share of the window columns: indices [from, to). */
export interface RunSlice {
  from: number;
  to: number;
  axis: AxisMap;
  run: number;
  correction: Correction;
}

/** Where the windows lie on the axis: start and length of each, seconds from axis zero. */
export function placeWindows(
  w: WindowColumns,
  slices: readonly RunSlice[],
): { start_s: Float64Array; dur_s: Float64Array } {
  const start_s = new Float64Array(w.t_us.length);
  const dur_s = new Float64Array(w.t_us.length);
  for (const { from, to, axis } of slices) {
    let before_us = NaN,
      end_us = NaN;
    for (let i = from; i < to; i++) {
      const from_us = w.t_us[i]! - w.dur_us[i]!;
      // Nearly always one begins where the one before it ended.
      const start_us = from_us === before_us ? end_us : axis.at(from_us);
      before_us = w.t_us[i]!;
      end_us = axis.at(before_us);
      start_s[i] = start_us / 1e6;
      dur_s[i] = (end_us - start_us) / 1e6;
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
export function gapsOfWindows(
  w: WindowColumns,
  slices: readonly RunSlice[],
  start_s: Float64Array,
  dur_s: Float64Array,
): Gap[] {
  const gaps: Gap[] = [];
  slices.forEach(({ from, to, correction }, run) => {
    const first = run === 0 ? from + 1 : from;
    for (let i = first; i < to; i++) {
      if (i > from && w.t_us[i]! - w.dur_us[i]! <= w.t_us[i - 1]!) continue;
      const before = i > from ? { t_us: w.t_us[i - 1]!, charge_nC: w.charge_nC[i - 1]! } : null;
      const gap = gapBefore(w, i, before, start_s[i - 1]! + dur_s[i - 1]!, start_s[i]!, dur_s[i]!, correction);
      if (gap !== null) gaps.push(gap);
    }
  });
  return gaps;
}

/** The end of the window before, in its run. */
export interface WindowEnd {
  t_us: number;
  charge_nC: number;
}

/**
 * The gap before window i, which does not begin where the one before it ended.
 * @param before null for the first of a run
 * @param end_s where the one before ended on the axis
 */
export function gapBefore(
  w: WindowColumns,
  i: number,
  before: WindowEnd | null,
  end_s: number,
  start_s: number,
  dur_s: number,
  correction: Correction,
): Gap | null {
  if (start_s <= end_s) return null;
  const known = before !== null && (w.flags[i]! & WINDOW_FLAG.notJoined) === 0;
  return {
    start_s: end_s,
    end_s: start_s,
    charge_mAh: known ? chargeBetween_mAh(w, i, before, dur_s, correction) : null,
  };
}

/** What lies so close to a gap tells what the car drew in it, as far as anything does. */
const AROUND_S = 60;

/**
 * Adds to gaps of unknown charge between which values it lies if the car went on as
 * around it, and to each how sure its length is.
 * @param mean_mA means of the windows; `start_s` their starts on the trace, ascending, as are the gaps
 * @param doubts by the end of a gap, where its length is not sure
 */
export function estimated(
  mean_mA: Samples,
  start_s: Float64Array,
  gaps: readonly Gap[],
  doubts: ReadonlyMap<number, number | null>,
): Gap[] {
  return gaps.map((gap) => {
    const doubt = doubts.get(gap.end_s);
    const sure = doubt === undefined ? {} : { uncertain_s: doubt };
    if (gap.charge_mAh !== null) return { ...gap, ...sure };
    let low = Infinity,
      high = -Infinity;
    for (
      let i = bisectLeft(start_s, gap.start_s - AROUND_S);
      i < start_s.length && start_s[i]! < gap.end_s + AROUND_S;
      i++
    ) {
      low = Math.min(low, mean_mA[i]!);
      high = Math.max(high, mean_mA[i]!);
    }
    if (low > high) return { ...gap, ...sure };
    const hours = (gap.end_s - gap.start_s) / 3600,
      spread = (doubt ?? 0) / 3600;
    const inTime = (current_mA: number, wider: number) => current_mA * (hours + (current_mA > 0 ? wider : -wider));
    return { ...gap, ...sure, estimate_mAh: { low: inTime(low, -spread), high: inTime(high, spread) } };
  });
}

/** nC of device time, put right by a later calibration and brought to true time by the ratio of both, in mAh. */
function chargeBetween_mAh(
  w: WindowColumns,
  i: number,
  before: WindowEnd,
  dur_s: number,
  { scale, shift_uA }: Correction,
): number {
  const own_nC = (w.mean_uA[i]! * w.dur_us[i]!) / 1000;
  const gap_us = w.t_us[i]! - w.dur_us[i]! - before.t_us;
  const charge_nC = (w.charge_nC[i]! - before.charge_nC - own_nC) * scale + (shift_uA * gap_us) / 1000;
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

/** A run's clock alone, without what lies before it. */
export function axisOf(knots: readonly ClockKnot[]): (t_us: number) => number {
  const map = new AxisMap(knots, 0);
  return (t_us) => map.at(t_us);
}
