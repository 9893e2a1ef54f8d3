// What level the live current holds, how sure that is, and whether it holds still.
// Readings are gathered in blocks of half a second; blinks and keyless polling (a few
// seconds or less) are part of a level, single spikes are not.

import { median } from 'd3-array';

/** A reading of the trace, on the session's own clock. */
export interface TraceReading {
  t_s: number;
  mean_mA: number;
}

/** Plain data, never changed. */
export interface LevelMemory {
  /** Start of each block, its mean, and how many readings it holds; ascending. */
  readonly blocks: readonly { t_s: number; mean_mA: number; count: number }[];
}

export interface Level {
  mean_mA: number;
  /** One standard deviation of the mean, the noise's memory of itself included. */
  sigma_mA: number;
  /** Whether it holds still: no half differs from the other by more than noise and flicker. */
  still: boolean;
  length_s: number;
}

/** Changes of this much mean nothing while fuses are pulled (common practice, no source). */
export const FLICKER_mA = 10;

const BLOCK_s = 0.5;
const KEEP_s = 180;
/** Halves of a still level may differ by the flicker, and by this share of a large level. */
const STILL_SHARE = 0.015;
/**
 * Noise that remembers itself makes a mean less sure than its spread says; factor by simulation of AR(1) noise with 0.5
 * s memory.
 */
const MEMORY_FACTOR = 1.5;
const SIGMA_FLOOR_mA = 0.5;

export const NO_READINGS: LevelMemory = { blocks: [] };

/**
 * The memory with one more reading. Those that go back in time belong to another moment and are left out. Some
 * microseconds: the blocks of up to 6 min are copied, not what is in them.
 */
export function addReading(memory: LevelMemory, { t_s: at_s, mean_mA }: TraceReading): LevelMemory {
  const { blocks } = memory;
  const t_s = Math.floor(at_s / BLOCK_s) * BLOCK_s;
  const last = blocks.at(-1);
  if (last !== undefined && t_s < last.t_s) return memory;
  if (last?.t_s === t_s) {
    const count = last.count + 1;
    return { blocks: blocks.with(-1, { t_s, mean_mA: last.mean_mA + (mean_mA - last.mean_mA) / count, count }) };
  }
  const kept =
    blocks.length > 0 && blocks[0]!.t_s < t_s - 2 * KEEP_s ? blocks.filter((one) => one.t_s >= t_s - KEEP_s) : blocks;
  return { blocks: [...kept, { t_s, mean_mA, count: 1 }] };
}

/** Whether a reading was the first of its block: only then are levels looked at anew. */
export const beginsBlock = (before: LevelMemory, after: LevelMemory): boolean =>
  after.blocks.at(-1)?.t_s !== before.blocks.at(-1)?.t_s;

/** The level from `from_s` up to `to_s`; null with less than 3 s of readings. */
export function levelBetween(memory: LevelMemory, from_s: number, to_s: number): Level | null {
  const values: number[] = [];
  for (let i = memory.blocks.length - 1; i >= 0; i--) {
    const block = memory.blocks[i]!;
    if (block.t_s < from_s) break;
    if (block.t_s + BLOCK_s <= to_s + 1e-9) values.push(block.mean_mA);
  }
  if (values.length < 3 / BLOCK_s) return null;
  values.reverse();
  return levelOf(values);
}

function levelOf(values: number[]): Level {
  const middle = median(values)!;
  const spread = 1.4826 * median(values.map((value) => Math.abs(value - middle)))!;
  const limit = Math.max(15, 5 * spread);
  const kept = values.filter((value) => Math.abs(value - middle) <= limit);
  const mean_mA = average(kept);
  const pairs: number[] = [];
  for (let i = 0; i + 3 < kept.length; i += 4) pairs.push(average(kept.slice(i, i + 4)));
  const deviation =
    pairs.length < 2
      ? spread
      : Math.sqrt(average(pairs.map((value) => (value - mean_mA) ** 2)) * (pairs.length / (pairs.length - 1)));
  const sigma_mA = Math.max(SIGMA_FLOOR_mA, (MEMORY_FACTOR * deviation) / Math.sqrt(Math.max(1, pairs.length)));
  const half = values.length >> 1;
  const apart = Math.abs(median(values.slice(0, half))! - median(values.slice(-half))!);
  const still =
    kept.length >= 0.8 * values.length &&
    apart <= Math.max(FLICKER_mA + 2, 3 * sigma_mA, STILL_SHARE * Math.abs(mean_mA));
  return { mean_mA, sigma_mA, still, length_s: values.length * BLOCK_s };
}

const average = (values: number[]) => values.reduce((sum, value) => sum + value, 0) / Math.max(1, values.length);
