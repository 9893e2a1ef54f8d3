// Spreads the pulses of a train over its time, so that its ticks show the mean of the
// train as one level, while a step or a wake-up of what lies under it keeps its edge.
// Which samples are pulses: those well over the train's morphological opening (Serra
// 1982), which takes away what is shorter than its reach and keeps the edges of all
// that is longer, wherever it lies in a tick. What the pulses add is averaged over some
// periods and put on every tick. O(samples in trains).

import type { Samples } from '../capture/types.ts';
import type { Ticks } from './ticks.ts';
import { TRAIN_HEIGHTS } from './trains.ts';
import type { Train } from './trains.ts';

/** Ticks over which what the pulses add is averaged, each side; or two periods where that is longer. */
const SPREAD_TICKS = 60;
/** The opening reaches so much further than a train's pulses: nine of ten are no longer. */
const REACH_SHARE = 1.25;
/** An edge sample of a pulse may be partly in it. */
const REACH_MORE = 2;

export interface Smoothed {
  /** Tick means with trains spread. */
  y: Float64Array;
  /** How much of `y` is spread pulses: the samples between pulses lie lower by this. */
  lift: Float64Array;
}

function averaged(values: Float64Array, half: number): Float64Array {
  const n = values.length;
  const sum = new Float64Array(n + 1);
  for (let i = 0; i < n; i++) sum[i + 1] = sum[i]! + values[i]!;
  return values.map((_, i) => {
    const from = Math.max(0, i - half);
    const to = Math.min(n, i + half + 1);
    return (sum[to]! - sum[from]!) / (to - from);
  });
}

/** Smallest of each `reach` values from i on (from i backwards where `back`), by sign: van Herk 1992, O(n) whatever the reach. */
function runningLeast(x: Float64Array, reach: number, sign: 1 | -1, back: boolean): Float64Array {
  const n = x.length;
  const toLeft = new Float64Array(n);
  const toRight = new Float64Array(n);
  for (let i = 0; i < n; i++) toLeft[i] = i % reach === 0 ? sign * x[i]! : Math.min(toLeft[i - 1]!, sign * x[i]!);
  for (let i = n - 1; i >= 0; i--) toRight[i] = i === n - 1 || i % reach === reach - 1 ? sign * x[i]! : Math.min(toRight[i + 1]!, sign * x[i]!);
  const out = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const first = back ? i - reach + 1 : i;
    const last = back ? i : i + reach - 1;
    // Of a stretch that an end cuts off, only what is there counts.
    const right = first < 0 ? Infinity : toRight[first]!;
    const left = last < n ? toLeft[last]! : Math.floor((n - 1) / reach) > Math.floor(first / reach) ? toLeft[n - 1]! : Infinity;
    out[i] = sign * Math.min(right, left);
  }
  return out;
}

/** `x` without what rises for less than `reach` samples. */
export function opened(x: Float64Array, reach: number): Float64Array {
  return runningLeast(runningLeast(x, reach, 1, false), reach, -1, true);
}

/** How far a sample of a pulse stands over the opening at least: half of what is usual in the ticks that hold one. */
function cutOf(train: Train, ticks: Ticks, over: Float64Array, offset: number): number {
  const tops = Float64Array.from(train.busy, (k) => {
    let top = 0;
    for (let i = ticks.start[k]!; i < ticks.start[k + 1]!; i++) top = Math.max(top, over[i - offset]!);
    return top;
  }).sort();
  return tops[tops.length >> 1]! / 2;
}

function spread(train: Train, ticks: Ticks, samples: Samples, out: Smoothed): void {
  const { firstTick, endTick, period_ticks } = train;
  const reach = Math.ceil(REACH_SHARE * train.pulse_samples) + REACH_MORE;
  // With what lies beside it, so that its ends cut no pulse.
  const offset = Math.max(0, ticks.start[firstTick]! - reach);
  const x = Float64Array.from(samples.subarray(offset, ticks.start[endTick]! + reach));
  const bottom = opened(x, reach);
  const over = x.map((value, i) => value - bottom[i]!);
  const cut = cutOf(train, ticks, over, offset);
  // What is much higher, say the inrush of a wake-up, is none of the train's.
  const isOwn = (i: number) => over[i]! >= cut && over[i]! <= 2 * TRAIN_HEIGHTS * cut;
  const isPulse = (i: number) => isOwn(i) || (i > 0 && isOwn(i - 1)) || (i + 1 < over.length && isOwn(i + 1));
  const added = new Float64Array(endTick - firstTick);
  for (let k = firstTick; k < endTick; k++) {
    const [from, to] = [ticks.start[k]! - offset, ticks.start[k + 1]! - offset];
    let sum = 0;
    for (let i = from; i < to; i++) if (isPulse(i)) sum += over[i]!;
    added[k - firstTick] = sum / (to - from);
    out.y[k] = ticks.mean[k]! - sum / (to - from);
  }
  const lift = averaged(added, Math.max(SPREAD_TICKS, 2 * period_ticks));
  for (let k = firstTick; k < endTick; k++) {
    out.y[k]! += lift[k - firstTick]!;
    out.lift[k] = lift[k - firstTick]!;
  }
}

export function smoothTrains(samples: Samples, ticks: Ticks, trains: Train[]): Smoothed {
  const out: Smoothed = { y: ticks.mean.slice(), lift: new Float64Array(ticks.count) };
  for (const train of trains) spread(train, ticks, samples, out);
  return out;
}
