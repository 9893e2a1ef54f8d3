// Windows as a trace: placed on the axis, put right by a later calibration, gaps with
// what flowed in them.

import type { WindowColumns } from '../format/blocks.ts';
import { changesNothing } from './calibrated.ts';
import type { Correction } from './calibrated.ts';
import type { Layout } from './layout.ts';
import type { BlockPlace, Stored } from './stored.ts';
import { estimated, gapsOfWindows, placeWindows } from './timeline.ts';
import type { RunSlice } from './timeline.ts';
import type { Gap } from '../../contract/capture.ts';

/** Windows on the trace's axis. Arrays of one length. */
export interface PlacedWindows {
  columns: WindowColumns;
  start_s: Float64Array;
  dur_s: Float64Array;
  mean_mA: Float64Array;
  slices: RunSlice[];
  gaps: Gap[];
}

/** @param blocks of windows, in the layout's order */
export function placedWindows(
  stored: Stored,
  { axis, correction, zero_s }: Layout,
  blocks: readonly BlockPlace[],
): PlacedWindows {
  const columns = stored.windows(blocks);
  const slices: RunSlice[] = [];
  let at = 0;
  for (const { run, count } of blocks) {
    const open = slices[slices.length - 1];
    if (open?.run === run) open.to += count;
    else slices.push({ from: at, to: at + count, axis: axis.get(run)!, run, correction: correction.get(run)! });
    at += count;
  }
  const { start_s, dur_s } = placeWindows(columns, slices);
  const gaps = gapsOfWindows(columns, slices, start_s, dur_s).map((gap) => ({
    ...gap,
    start_s: gap.start_s - zero_s,
    end_s: gap.end_s - zero_s,
  }));
  for (let i = 0; i < start_s.length; i++) start_s[i] = start_s[i]! - zero_s;
  const mean_mA = corrected(columns.mean_uA, slices);
  return {
    columns,
    start_s,
    dur_s,
    mean_mA,
    slices,
    gaps: estimated(mean_mA, start_s, gaps, doubtsOf(stored, slices, start_s)),
  };
}

/** Microamperes as milliamperes, each run by its calibration. */
export function corrected(
  values_uA: Float64Array,
  slices: readonly { from: number; to: number; correction: Correction }[],
): Float64Array {
  const out = new Float64Array(values_uA.length);
  for (const { from, to, correction } of slices) {
    const { scale, shift_uA } = correction;
    if (changesNothing(correction)) for (let i = from; i < to; i++) out[i] = values_uA[i]! / 1000;
    else for (let i = from; i < to; i++) out[i] = (values_uA[i]! * scale + shift_uA) / 1000;
  }
  return out;
}

/** How sure the gap before each run is, by the trace time of that run's first sample. */
export function doubtsOf(
  stored: Stored,
  slices: readonly { from: number; run: number }[],
  start_s: Float64Array,
): Map<number, number | null> {
  const found = new Map<number, number | null>();
  for (const { from, run } of slices) {
    const doubt = stored.doubt_s(run);
    if (doubt !== undefined) found.set(start_s[from]!, doubt);
  }
  return found;
}
