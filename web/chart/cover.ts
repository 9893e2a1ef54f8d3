// How much of a box lies over the band and the staircase: what label placement asks.

import type { Findings } from '../../host/contract/findings.ts';
import type { Column, Columns, Ground } from './columns.ts';
import type { View } from './data.ts';
import type { Scale } from './scales.ts';

/** A column of the staircase weighs as much as this many of the band. */
const STAIRS_WEIGHT = 4;
/** A box is asked for at every third column. */
const STRIDE_PX = 3;

/**
 * Says how much of a box lies over the band and the staircase: what label placement
 * asks. Heights of the drawing are kept per pixel column.
 */
export function coverOf(
  under: Ground,
  { list }: Columns,
): (box: { x: number; y: number; width: number; height: number }) => number {
  const { levels, view, x, y } = under;
  const left = Math.floor(x(view.from_s));
  const count = Math.max(1, Math.ceil(x(view.to_s)) - left + 1);
  const high = new Float32Array(count).fill(Infinity);
  const low = new Float32Array(count).fill(-Infinity);
  let before: Column | null = null;
  for (const column of list) {
    if (column.mean === null) {
      before = null;
      continue;
    }
    // Between two columns the drawing is as tall as both together.
    const from = Math.max(0, Math.floor((before?.x ?? column.x) - left));
    const to = Math.min(count - 1, Math.ceil(column.x - left));
    for (let i = from; i <= to; i++) {
      high[i] = Math.min(high[i]!, column.high, before?.high ?? Infinity);
      low[i] = Math.max(low[i]!, column.low, before?.low ?? -Infinity);
    }
    before = column;
  }
  const [highest, lowest] = [widened(high, Math.min), widened(low, Math.max)];
  const stairs = stairColumns(levels, view, x, y, left, count);
  return (box) => {
    let covered = 0;
    let asked = 0;
    for (let px = box.x; px <= box.x + box.width; px += STRIDE_PX) {
      const i = Math.min(count - 1, Math.max(0, Math.round(px - left)));
      asked++;
      if (highest[i]! < box.y + box.height && lowest[i]! > box.y) covered++;
      if (stairs.high[i]! < box.y + box.height + 2 && stairs.low[i]! > box.y - 2) covered += STAIRS_WEIGHT;
    }
    return asked === 0 ? 0 : covered / asked;
  };
}

/** Each column with its neighbours, so that no flank, one pixel thin, slips between two strides. */
function widened(heights: Float32Array, pick: (...values: number[]) => number): Float32Array {
  return heights.map((own, i) => pick(heights[i - 1] ?? own, own, heights[i + 1] ?? own));
}

/** Heights of the staircase per pixel column; a riser spans its own column. */
function stairColumns(
  levels: Findings['levels'],
  view: View,
  x: Scale,
  y: Scale,
  left: number,
  count: number,
): { high: Float32Array; low: Float32Array } {
  const high = new Float32Array(count).fill(Infinity);
  const low = new Float32Array(count).fill(-Infinity);
  let last_px: number | null = null;
  for (const level of levels) {
    if (level.end_s < view.from_s || level.start_s > view.to_s) continue;
    const at = y(level.level_mA);
    const from = Math.min(count - 1, Math.max(0, Math.floor(x(level.start_s) - left)));
    const end = Math.min(count, Math.max(from + 1, Math.ceil(x(level.end_s) - left)));
    for (let i = from; i < end; i++) {
      const riser: number = i < from + 3 ? (last_px ?? at) : at;
      high[i] = Math.min(high[i]!, at, riser);
      low[i] = Math.max(low[i]!, at, riser);
    }
    last_px = at;
  }
  return { high, low };
}
