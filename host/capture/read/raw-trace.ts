// Raw conversions as a trace of points. Where they are missing and windows are not, a
// window stands in as one point in its middle, so that nothing is lost; and since the
// trace is never both at once, nothing counts twice.

import { bisectLeft } from 'd3-array';
import { newRawColumns } from '../format/raw-blocks.ts';
import type { Layout } from './layout.ts';
import { countOf } from './stored.ts';
import type { BlockPlace, Stored } from './stored.ts';
import { placedWindows } from './window-trace.ts';
import type { PlacedWindows } from './window-trace.ts';
import type { Gap, Trace } from '../../contract/capture.ts';

/** The shortest window that a board makes (firmware/PROTOCOL.md, command `w`): less than this holds none. */
const HOLE_LEAST_S = 0.01;

/**
 * A spacing that the analysis takes for a gap (the analysis: also over five times the median, which is a millisecond
 * here).
 */
const GAP_S = 2;

/** Windows this far around a gap tell what may have flowed in it. */
const AROUND_S = 60;

/** Between which two samples something is missing: after sample `after` (-1: before the first). */
interface Hole {
  after: number;
  from_s: number;
  to_s: number;
}

/** Both arrays have one free place ahead of them in their buffers. */
interface Points {
  t_s: Float64Array<ArrayBuffer>;
  mean_mA: Float32Array<ArrayBuffer>;
}

/** @param start_ms wall clock of the first sample */
export function rawTrace(stored: Stored, layout: Layout, start_ms: number | null): Trace {
  const raw = readRaw(stored, layout);
  const holes = holesOf(raw.t_s, layout.end_s - layout.zero_s);
  const reach = holes.map(({ from_s, to_s }) =>
    to_s - from_s > GAP_S ? { from_s: from_s - AROUND_S, to_s: to_s + AROUND_S } : { from_s, to_s },
  );
  const near = layout.blocks.filter((block) => {
    const from_s = placeOf(layout, block, block.first_t_us),
      to_s = placeOf(layout, block, block.last_t_us);
    return reach.some((stretch) => from_s < stretch.to_s && to_s > stretch.from_s);
  });
  const windows = placedWindows(stored, layout, near);
  const points = fromZero(filled(raw, holes, windows));
  return {
    kind: 'points',
    start_ms,
    time: { kind: 'listed', t_s: points.t_s },
    dur_s: null,
    mean_mA: points.mean_mA,
    min_mA: null,
    max_mA: null,
    gaps: gapsWithin(windows.gaps, holes),
  };
}

const placeOf = ({ axis, zero_s }: Layout, block: BlockPlace, t_us: number) =>
  axis.get(block.run)!.at(t_us) / 1e6 - zero_s;

function readRaw(stored: Stored, { raw, axis, correction, zero_s }: Layout): Points {
  // A free place ahead, for the begin of the first conversion: half a gigabyte is not copied for it.
  const t_s = new Float64Array(countOf(raw) + 1).subarray(1),
    mean_mA = new Float32Array(t_s.length + 1).subarray(1);
  const columns = newRawColumns(raw.reduce((most, { count }) => Math.max(most, count), 0));
  const { units } = columns;
  let at = 0;
  for (const block of raw) {
    stored.raw(block, columns, 'values');
    axis.get(block.run)!.place(columns.t_us, block.count, t_s, at, zero_s);
    const { perUnit_mA, atZero_mA } = correction.get(block.run)!;
    for (let i = 0; i < block.count; i++) mean_mA[at + i] = units[i]! * perUnit_mA + atZero_mA;
    at += block.count;
  }
  return { t_s, mean_mA };
}

/** @param end_s end of the last window */
function holesOf(t_s: Float64Array, end_s: number): Hole[] {
  const holes: Hole[] = [];
  let before = 0;
  for (let i = 0; i < t_s.length; i++) {
    const now = t_s[i]!;
    if (now - before > HOLE_LEAST_S) holes.push({ after: i - 1, from_s: before, to_s: now });
    before = now;
  }
  if (end_s - before > HOLE_LEAST_S) holes.push({ after: t_s.length - 1, from_s: before, to_s: end_s });
  return holes;
}

/** Puts windows that lie in holes between the conversions. */
function filled(raw: Points, holes: readonly Hole[], windows: PlacedWindows): Points {
  const parts = holes.map((hole) => ({ after: hole.after, ...inside(hole, windows) }));
  const more = parts.reduce((sum, part) => sum + part.t_s.length, 0);
  if (more === 0) return raw;
  const t_s = new Float64Array(raw.t_s.length + more + 1).subarray(1),
    mean_mA = new Float32Array(t_s.length + 1).subarray(1);
  let from = 0,
    at = 0;
  const take = (to: number) => {
    t_s.set(raw.t_s.subarray(from, to), at);
    mean_mA.set(raw.mean_mA.subarray(from, to), at);
    at += to - from;
    from = to;
  };
  for (const part of parts) {
    take(part.after + 1);
    t_s.set(part.t_s, at);
    mean_mA.set(part.mean_mA, at);
    at += part.t_s.length;
  }
  take(raw.t_s.length);
  return { t_s, mean_mA };
}

/**
 * The trace begins, in the place that is free ahead, where its first reading began, which is a mean of the time before
 * it, whether a conversion or a window.
 */
function fromZero({ t_s, mean_mA }: Points): Points {
  if (t_s.length === 0 || t_s[0]! <= 0) return { t_s, mean_mA };
  const whole = {
    t_s: new Float64Array(t_s.buffer, t_s.byteOffset - 8),
    mean_mA: new Float32Array(mean_mA.buffer, mean_mA.byteOffset - 4),
  };
  whole.t_s[0] = 0;
  whole.mean_mA[0] = mean_mA[0]!;
  return whole;
}

/** Middles and means of the windows that lie wholly within a hole. */
function inside(hole: Hole, { start_s, dur_s, mean_mA }: PlacedWindows): { t_s: number[]; mean_mA: number[] } {
  const found = { t_s: [] as number[], mean_mA: [] as number[] };
  // A conversion and the window that it ends are placed by the same clock; a microsecond is rounding.
  const slack_s = 1e-6;
  for (
    let i = bisectLeft(start_s, hole.from_s - slack_s);
    i < start_s.length && start_s[i]! + dur_s[i]! <= hole.to_s + slack_s;
    i++
  ) {
    found.t_s.push(start_s[i]! + dur_s[i]! / 2);
    found.mean_mA.push(mean_mA[i]!);
  }
  return found;
}

/**
 * Gaps of the windows that neither stream covers and that the analysis sets apart; shorter ones are bridged by its
 * trapezoids.
 */
function gapsWithin(gaps: readonly Gap[], holes: readonly Hole[]): Gap[] {
  return gaps.filter(
    (gap) =>
      gap.end_s - gap.start_s > GAP_S && holes.some(({ from_s, to_s }) => gap.start_s < to_s && gap.end_s > from_s),
  );
}
