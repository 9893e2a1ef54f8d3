// The pyramid for zooming: each merged block carries its readings thinned to
// equal groups, so that a whole night is drawn without decoding it. SPEC.md,
// "Summaries", is the byte format.

import type { PointColumns, WindowColumns } from './blocks.ts';

/** Readings in one group. At 20 windows/s a group is 3.2 s: finer than a screen column of a night. */
export const GROUP = 64;

/** Fields of a group: start and end (µs after the block's first time), minimum, mean, maximum (mA). */
const FIELDS = 5;

/**
 * Groups of one block. Stored, `from` and `to` are device microseconds (for
 * points: microseconds of the source's own axis); for drawing they are put into seconds.
 */
export interface Groups {
  from: Float64Array;
  to: Float64Array;
  min_mA: Float64Array;
  mean_mA: Float64Array;
  max_mA: Float64Array;
}

export function newGroups(length: number): Groups {
  const column = () => new Float64Array(length);
  return { from: column(), to: column(), min_mA: column(), mean_mA: column(), max_mA: column() };
}

/** Groups of `size` windows each, `count` windows from index `at` on; the mean is weighted by each window's length. */
export function groupWindows(w: WindowColumns, at: number, count: number, size = GROUP): Groups {
  const groups = newGroups(Math.ceil(count / size));
  for (let g = 0; g < groups.min_mA.length; g++) {
    const first = at + g * size;
    const end = Math.min(first + size, at + count);
    let min = Infinity,
      max = -Infinity,
      charge = 0,
      time = 0;
    for (let i = first; i < end; i++) {
      min = Math.min(min, w.min_uA[i]!);
      max = Math.max(max, w.max_uA[i]!);
      charge += w.mean_uA[i]! * w.dur_us[i]!;
      time += w.dur_us[i]!;
    }
    groups.from[g] = w.t_us[first]! - w.dur_us[first]!;
    groups.to[g] = w.t_us[end - 1]!;
    groups.min_mA[g] = min / 1000;
    groups.mean_mA[g] = (time > 0 ? charge / time : w.mean_uA[first]!) / 1000;
    groups.max_mA[g] = max / 1000;
  }
  return groups;
}

/** Groups of `size` points each, `count` points from index `at` on. */
export function groupPoints(p: PointColumns, at: number, count: number, size = GROUP): Groups {
  const groups = newGroups(Math.ceil(count / size));
  const low = p.min_mA,
    high = p.max_mA;
  for (let g = 0; g < groups.min_mA.length; g++) {
    const first = at + g * size;
    const end = Math.min(first + size, at + count);
    let min = Infinity,
      max = -Infinity,
      sum = 0;
    for (let i = first; i < end; i++) {
      const mean = p.current_mA[i]!;
      // A blank cell (NaN) fails both comparisons and leaves the mean to speak.
      min = Math.min(min, low !== null && low[i]! < mean ? low[i]! : mean);
      max = Math.max(max, high !== null && high[i]! > mean ? high[i]! : mean);
      sum += mean;
    }
    groups.from[g] = p.t_s[first]! * 1e6;
    groups.to[g] = p.t_s[end - 1]! * 1e6;
    groups.min_mA[g] = min;
    groups.mean_mA[g] = sum / (end - first);
    groups.max_mA[g] = max;
  }
  return groups;
}

export function encodeGroups(groups: Groups, first_t_us: number): Buffer {
  const data = Buffer.alloc(groups.min_mA.length * FIELDS * 4);
  for (let g = 0; g < groups.min_mA.length; g++) {
    const values = [
      groups.from[g]! - first_t_us,
      groups.to[g]! - first_t_us,
      groups.min_mA[g]!,
      groups.mean_mA[g]!,
      groups.max_mA[g]!,
    ];
    values.forEach((value, field) => data.writeFloatLE(value, (g * FIELDS + field) * 4));
  }
  return data;
}

/** Number of groups in a stored summary. */
export const groupCount = (data: Buffer): number => data.length / (FIELDS * 4);

export function decodeGroups(data: Buffer, first_t_us: number, out: Groups, at: number): void {
  const count = groupCount(data);
  const view = new DataView(data.buffer, data.byteOffset, data.length);
  for (let g = 0; g < count; g++) {
    const p = g * FIELDS * 4;
    out.from[at + g] = first_t_us + view.getFloat32(p, true);
    out.to[at + g] = first_t_us + view.getFloat32(p + 4, true);
    out.min_mA[at + g] = view.getFloat32(p + 8, true);
    out.mean_mA[at + g] = view.getFloat32(p + 12, true);
    out.max_mA[at + g] = view.getFloat32(p + 16, true);
  }
}
