// Gathers groups of readings into the equal bins of a drawing.

import type { Groups } from '../format/summaries.ts';
import type { Bins } from '../../contract/capture.ts';

/** What a point weighs, which takes no time: less than any window, more than nothing. */
const INSTANT_S = 1e-9;

/**
 * @param parts groups in ascending order, their times already in seconds on the trace's axis.
 *   A group counts in every bin that it reaches into, so that no peak is lost at a
 *   bin's edge; its mean counts by the time that it spends there.
 */
export function binGroups(parts: readonly Groups[], from_s: number, to_s: number, bins: number): Bins {
  const width_s = (to_s - from_s) / bins;
  const overview: Bins = {
    t_s: Float64Array.from({ length: bins }, (_, bin) => from_s + bin * width_s),
    min: new Float64Array(bins).fill(NaN),
    mean: new Float64Array(bins).fill(NaN),
    max: new Float64Array(bins).fill(NaN),
  };
  const sum = new Float64Array(bins);
  const weight = new Float64Array(bins);
  const { min, mean, max } = overview;
  for (const part of parts) {
    for (let g = 0; g < part.from.length; g++) {
      const start_s = part.from[g]!,
        end_s = part.to[g]!;
      if (end_s < from_s || start_s >= to_s) continue;
      const firstBin = Math.max(0, Math.floor((start_s - from_s) / width_s));
      // The end is not part of a window: one that ends on a bin's edge stays out of the bin behind it.
      const lastBin = Math.max(firstBin, Math.min(bins, Math.ceil((end_s - from_s) / width_s)) - 1);
      for (let bin = firstBin; bin <= lastBin && bin < bins; bin++) {
        const bin_s = from_s + bin * width_s;
        const share = Math.max(Math.min(end_s, bin_s + width_s) - Math.max(start_s, bin_s), INSTANT_S);
        if (!(part.min_mA[g]! >= min[bin]!)) min[bin] = part.min_mA[g]!;
        if (!(part.max_mA[g]! <= max[bin]!)) max[bin] = part.max_mA[g]!;
        sum[bin] = sum[bin]! + part.mean_mA[g]! * share;
        weight[bin] = weight[bin]! + share;
      }
    }
  }
  for (let bin = 0; bin < bins; bin++) if (weight[bin]! > 0) mean[bin] = sum[bin]! / weight[bin]!;
  return overview;
}
