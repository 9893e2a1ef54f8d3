// What is to be drawn as pixel columns: bins narrower than a pixel are put together,
// so that a picture costs what it shows and not what it was asked for in.

import type { Overview } from '../../host/contract/api.ts';
import type { Findings } from '../../host/contract/findings.ts';
import type { View } from './data.ts';
import { binWidth_s, binsWithin } from './data.ts';
import type { Scale } from './scales.ts';

/** What is drawn, and the scales and heights to draw it within. */
export interface Ground {
  bins: Overview;
  levels: Findings['levels'];
  view: View;
  x: Scale;
  y: Scale;
  bottom_px: number;
  top_px: number;
}

export interface Column {
  /** Its middle. */
  x: number;
  mean: number | null;
  low: number;
  high: number;
  /** The height of the level that was held here; null where none was. */
  level: number | null;
}

export interface Columns {
  list: Column[];
  width_px: number;
}

/**
 * The bins in view as columns of at most a pixel, or of a bin where that is wider; heights are kept within the plot.
 */
export function columnsOf({ bins, levels, view, x, y, bottom_px, top_px }: Ground): Columns {
  const bin_s = binWidth_s(bins);
  const bin_px = (bin_s * (x(view.to_s) - x(view.from_s))) / (view.to_s - view.from_s);
  const fold = Math.max(1, Math.floor(1 / bin_px));
  const [first, end] = binsWithin(bins, view.from_s, view.to_s);
  // One more on each side, so that the lines leave the plot instead of ending short of its edge.
  // Columns begin at multiples of the fold, so that their content stays the same while the picture is moved.
  const from = Math.max(0, Math.floor(first / fold) - 1) * fold;
  const to = Math.min(bins.mean_mA.length, (Math.ceil(end / fold) + 1) * fold);
  const height = (value: number) => Math.min(bottom_px, Math.max(top_px, y(value)));
  const list: Column[] = [];
  let l = 0;
  for (let i = from; i < to; i += fold) {
    const { mean, min, max } = together(bins, i, Math.min(i + fold, to));
    const middle_s = bins.from_s + (i + fold / 2) * bin_s;
    while (l < levels.length && levels[l]!.end_s <= middle_s) l++;
    const level = l < levels.length && levels[l]!.start_s <= middle_s ? levels[l]!.level_mA : null;
    list.push({
      x: x(middle_s),
      mean: mean === null ? null : height(mean),
      low: height(min),
      high: height(max),
      level: level === null ? null : height(level),
    });
  }
  return { list, width_px: fold * bin_px };
}

/** Bins [from, to) as one; without a reading in any of them its mean is null. */
function together(bins: Overview, from: number, to: number): { mean: number | null; min: number; max: number } {
  let count = 0,
    sum = 0,
    min = Infinity,
    max = -Infinity;
  for (let i = from; i < to; i++) {
    const mean = bins.mean_mA[i] ?? null;
    if (mean === null) continue;
    count++;
    sum += mean;
    min = Math.min(min, bins.min_mA[i] ?? mean);
    max = Math.max(max, bins.max_mA[i] ?? mean);
  }
  return count === 0 ? { mean: null, min: 0, max: 0 } : { mean: sum / count, min, max };
}
