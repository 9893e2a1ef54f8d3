// From the best partition of the ticks to segments that mean something: drops edges that are drift
// or noise (step.ts says which), and short flickers too small to be a wake-up. The weakest go first,
// in rounds in which no two neighbours go, so that each removal is judged by what is left around it.
// O(segments x rounds), with about log(segments) rounds.

import { ticksBeside, localFit } from './local-fit.ts';
import type { LocalFit } from './local-fit.ts';
import { partition } from './fpop.ts';
import { isHeld, jumpStrength } from './step.ts';
import type { Scale } from '../ticks/scale.ts';
import type { Ticks } from '../ticks/ticks.ts';

/**
 * Penalty of an edge in sigma^2 ln n. 2 is the least that gives no edge in pure noise (Yao 1988);
 * weak edges are judged again below.
 */
const PENALTY = 3;
/**
 * Standard errors by which a flicker must stand out of the noise beside it, which may be many times that of the
 * sleeping car.
 */
const FLICKER_ERRORS = 5;
/** Most short segments that are skipped in search of the level beyond them. */
const LOOK_MAX = 64;

/** The ticks of a trace as segments of about constant current. */
export interface Segmentation {
  /** First tick of each segment, then the number of ticks. */
  starts: number[];
  /** Means, lines and noise of the ticks, with dropped flickers levelled. */
  fit: LocalFit;
}

/** The segments while edges are being dropped. */
interface Pruning {
  starts: number[];
  /** Tick means. Dropped flickers are levelled, so that they do not distort what lies beside them. */
  y: Float64Array;
  fit: LocalFit;
  scale: Scale;
  ticks: Ticks;
  step_mA: number;
  leastRise_mA: number;
  hold_s: number;
  gapBefore_s: (tick: number) => number;
}

/** How clearly each edge is a jump; infinite for both ends of the trace. */
function strengths(w: Pruning): Float64Array {
  const { starts } = w;
  const out = new Float64Array(starts.length).fill(Infinity);
  for (let j = 1; j + 1 < starts.length; j++) {
    out[j] = jumpStrength(w.fit, starts[j - 1]!, starts[j]!, starts[j + 1]!, w.step_mA, w.gapBefore_s(starts[j]!));
  }
  return out;
}

/** Drops the edges that are no jumps and weaker than both neighbours; true where it dropped any. */
function dropWeak(w: Pruning): boolean {
  const strength = strengths(w);
  const kept = w.starts.filter((_, j) => {
    const own = strength[j]!;
    return !(own < 1 && own <= (strength[j - 1] ?? Infinity) && own < (strength[j + 1] ?? Infinity));
  });
  const changed = kept.length < w.starts.length;
  w.starts = kept;
  return changed;
}

/**
 * Height of segment j over what it stands on: its topographic prominence, searched up to the nearest
 * held levels. Above 0 for a peak and, upside down, for a hollow; 0 for a landing on a stair.
 */
function prominence(means: Float64Array, held: Uint8Array, j: number): number {
  const sign = Math.sign(means[j]! - means[j - 1]!);
  if (sign !== Math.sign(means[j]! - means[j + 1]!)) return 0;
  const top = sign * means[j]!;
  const foot = (side: -1 | 1): number => {
    let lowest = top;
    for (let k = j + side; k >= 0 && k < means.length && Math.abs(k - j) < LOOK_MAX; k += side) {
      if (sign * means[k]! > top) break;
      lowest = Math.min(lowest, sign * means[k]!);
      if (held[k] === 1) break;
    }
    return lowest;
  };
  return top - Math.max(foot(-1), foot(1));
}

/**
 * Where segment j continues the nearest held level before or after it: how far what lies between
 * them stands out, mA; else 0.
 */
function resumedOver(w: Pruning, means: Float64Array, held: Uint8Array, j: number): number {
  let most = 0;
  for (const side of [-1, 1]) {
    let over = 0;
    let k = j + side;
    for (; k >= 0 && k < means.length && held[k] === 0 && Math.abs(k - j) < LOOK_MAX; k += side)
      over = Math.max(over, Math.abs(means[k]! - means[j]!));
    if (over === 0 || held[k] !== 1) continue;
    const level = w.fit.mean(...ticksBeside(w.starts[k]!, w.starts[k + 1]!, side < 0));
    if (Math.abs(level - means[j]!) < w.step_mA) most = Math.max(most, over);
  }
  return most;
}

/** Standard error of the mean of segment j, by the noise of the level beside it, mA. */
function flickerError({ starts, fit }: Pruning, j: number): number {
  const beside = Math.max(fit.variance(starts[j - 1]!, starts[j]!), fit.variance(starts[j + 1]!, starts[j + 2]!));
  return Math.sqrt(beside / (starts[j + 1]! - starts[j]!));
}

/**
 * Drops the nearer edge of segments that are not held and neither rise nor fall enough, the lowest
 * first; true where any.
 */
function dropFlickers(w: Pruning): boolean {
  const { starts, ticks } = w;
  const segments = starts.length - 1;
  const means = new Float64Array(segments);
  for (let j = 0; j < segments; j++) means[j] = w.fit.mean(starts[j]!, starts[j + 1]!);
  const held = new Uint8Array(segments);
  for (let j = 0; j < segments; j++)
    held[j] = isHeld(ticks.clock_s[starts[j + 1]!]! - ticks.clock_s[starts[j]!]!, w.hold_s) ? 1 : 0;
  const height = new Float64Array(segments).fill(Infinity);
  for (let j = 1; j + 1 < segments; j++) {
    const prominent = prominence(means, held, j);
    const landing = prominent === 0;
    if (held[j] === 1 || (landing && starts[j + 1]! - starts[j]! > 1)) continue;
    if (prominent >= Math.max(w.leastRise_mA, FLICKER_ERRORS * flickerError(w, j))) continue;
    const between = resumedOver(w, means, held, j);
    if (between >= w.leastRise_mA) continue;
    // What lies between two parts of one level is dropped before they are.
    height[j] = prominent + between;
  }
  const dropped = new Set<number>();
  let levelled = false;
  for (let j = 1; j + 1 < segments; j++) {
    const own = height[j]!;
    if (own === Infinity || own > (height[j - 1] ?? 0) || own >= (height[j + 1] ?? 0)) continue;
    const toLeft = Math.abs(means[j]! - means[j - 1]!) <= Math.abs(means[j]! - means[j + 1]!);
    dropped.add(toLeft ? j : j + 1);
    // A larger flicker, or a tick that an edge cuts, says nothing about the level beside it: level it.
    if (own > 0 && own < w.step_mA) continue;
    w.y.fill(means[toLeft ? j - 1 : j + 1]!, starts[j], starts[j + 1]);
    levelled = true;
  }
  if (levelled) w.fit = localFit(w.y, w.scale);
  w.starts = starts.filter((_, j) => !dropped.has(j));
  return dropped.size > 0;
}

/** The smallest step, the least that a wake-up may rise, and the shortest hold of a level. */
export interface SegmentOptions {
  step_mA: number;
  leastRise_mA: number;
  hold_s: number;
}

/**
 * Segments of about constant current, with the edges between them that are jumps or flickers large
 * enough for a wake-up. O(ticks log ticks) in practice. The first partition is optimal for the
 * penalty (fpop.ts).
 *
 * @param y tick means, mA, with trains of pulses smoothed out
 * @param gapBefore_s seconds without samples before a tick
 */
export function segment(
  y: Float64Array,
  ticks: Ticks,
  scale: Scale,
  options: SegmentOptions,
  gapBefore_s: (tick: number) => number,
): Segmentation {
  const n = y.length;
  const penalty = PENALTY * scale.sigma_mA * scale.sigma_mA * scale.memory * Math.log(Math.max(n, 3));
  const starts = [0, ...partition(y, penalty).changes, n];
  const work: Pruning = { ...options, starts, y: y.slice(), fit: localFit(y, scale), scale, ticks, gapBefore_s };
  let changed = n > 0;
  while (changed) {
    while (dropWeak(work)) changed = true;
    changed = dropFlickers(work);
  }
  return { starts: work.starts, fit: work.fit };
}
