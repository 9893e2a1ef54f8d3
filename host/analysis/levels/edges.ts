// Places edges and short pulses on the sample. With the currents before and after an edge known,
// its least-squares place is where the running sum of (sample - their middle) turns. Samples are
// clamped between the two currents, so that a spike beside the edge cannot pull it. A short pulse is
// the stretch with the largest such sum (Kadane's maximum subarray, in Bentley, Programming Pearls,
// 1984).

import type { Samples } from '../../contract/capture.ts';

/**
 * First sample after the edge from `before_mA` to `after_mA` that fits samples from..to-1 best by
 * least squares: `from` where all of them belong after it, `to` where none does. O(to - from).
 */
export function edgeBetween(samples: Samples, from: number, to: number, before_mA: number, after_mA: number): number {
  const middle = (before_mA + after_mA) / 2;
  const reach = Math.abs(after_mA - before_mA) / 2;
  const rising = after_mA > before_mA;
  let sum = 0;
  let lowest = 0;
  let edge = from;
  for (let i = from; i < to; i++) {
    const over = samples[i]! - middle;
    sum += Math.max(-reach, Math.min(reach, rising ? over : -over));
    if (rising ? sum < lowest : sum <= lowest) {
      lowest = sum;
      edge = i + 1;
    }
  }
  return edge;
}

/** Samples from..to-1. */
export interface Stretch {
  from: number;
  to: number;
}

/**
 * The stretch of samples from..to-1 that stands out most over the middle of `base_mA` and `top_mA`,
 * or under it where `top_mA` is the lower of the two; null where nothing does. O(to - from).
 * Source: Kadane's maximum subarray, in Bentley, Programming Pearls, 1984.
 */
export function strongestPulse(
  samples: Samples,
  from: number,
  to: number,
  base_mA: number,
  top_mA: number,
): Stretch | null {
  const middle = (base_mA + top_mA) / 2;
  const reach = Math.abs(top_mA - base_mA) / 2;
  const sign = top_mA > base_mA ? 1 : -1;
  let best = 0;
  let bestFrom = -1;
  let bestTo = -1;
  let sum = 0;
  let start = from;
  for (let i = from; i < to; i++) {
    sum += Math.max(-reach, Math.min(reach, sign * (samples[i]! - middle)));
    if (sum <= 0) {
      sum = 0;
      start = i + 1;
    } else if (sum > best) {
      best = sum;
      bestFrom = start;
      bestTo = i + 1;
    }
  }
  return bestFrom < 0 ? null : { from: bestFrom, to: bestTo };
}
