// Spreads the pulses of a train over its time, so that its ticks show the mean of the
// train as one level, while a step or a wake-up of what lies under it keeps its edge.
// In a tick with no other edge, pulses are what is well over its rest. In the others
// they are what is well over the morphological opening (Serra 1982), which takes away
// what is shorter than its reach and keeps the edges of all that is longer. What the
// pulses add is averaged over some periods and put on every tick. O(samples in trains).

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

/** Ticks of a train that tell how high its pulses are. */
const TICKS_FOR_CUT = 9;
/** Samples in a tick that can tell pulses from rest by itself. */
const PLAIN_SAMPLES = 8;
/** Share of a tick without pulses that tells its rest. */
const REST_SHARE = 0.2;
/** Floors of neighbouring ticks are the same within this share of the pulses' height. */
const SAME_FLOOR = 0.3;

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
  for (let block = 0; block < n; block += reach) {
    const end = Math.min(n, block + reach);
    let least = Infinity;
    for (let i = block; i < end; i++) toLeft[i] = least = Math.min(least, sign * x[i]!);
    least = Infinity;
    for (let i = end - 1; i >= block; i--) toRight[i] = least = Math.min(least, sign * x[i]!);
  }
  const out = new Float64Array(n);
  const last = Math.floor((n - 1) / reach);
  for (let i = 0; i < n; i++) {
    const from = back ? i - reach + 1 : i;
    const to = from + reach - 1;
    // Of a stretch that an end cuts off, only what is there counts.
    const right = from < 0 ? Infinity : toRight[from]!;
    const left = to < n ? toLeft[to]! : last > Math.floor(from / reach) ? toLeft[n - 1]! : Infinity;
    out[i] = sign * Math.min(right, left);
  }
  return out;
}

/** `x` without what rises for less than `reach` samples. */
export function opened(x: Float64Array, reach: number): Float64Array {
  return runningLeast(runningLeast(x, reach, 1, false), reach, -1, true);
}

/** Samples from..to-1 and what lies beside them as far as pulses reach, and their opening. */
function around(samples: Samples, from: number, to: number, reach: number): { x: Float64Array; bottom: Float64Array; offset: number } {
  const offset = Math.max(0, from - 2 * reach);
  const x = new Float64Array(samples.subarray(offset, to + 2 * reach));
  return { x, bottom: opened(x, reach), offset };
}

/** Do the ticks beside it rest on the same current, and does nothing in it rise over the train? */
function isPlain(ticks: Ticks, train: Train, k: number): boolean {
  const near = SAME_FLOOR * train.height_mA;
  const floor = ticks.low[k]!;
  const fits = (n: number) => n < 0 || n >= ticks.count || (Math.abs(ticks.low[n]! - floor) <= near && ticks.high[n]! - floor <= TRAIN_HEIGHTS * train.height_mA);
  return fits(k - 1) && fits(k) && fits(k + 1);
}

/** Half of what the pulses usually stand over the opening, in samples. */
function cutOf(train: Train, ticks: Ticks, samples: Samples, points: boolean, reach: number): number {
  const stride = Math.ceil(train.busy.length / TICKS_FOR_CUT);
  const tops: number[] = [];
  for (let n = 0; n < train.busy.length; n += stride) {
    const k = train.busy[n]!;
    if (points && isPlain(ticks, train, k)) {
      tops.push(ticks.high[k]! - ticks.low[k]!);
      continue;
    }
    const [from, to] = [ticks.start[k]!, ticks.start[k + 1]!];
    const { x, bottom, offset } = around(samples, from, to, reach);
    let top = 0;
    for (let i = from - offset; i < to - offset; i++) top = Math.max(top, x[i]! - bottom[i]!);
    tops.push(top);
  }
  tops.sort((p, q) => p - q);
  return tops[tops.length >> 1]! / 2;
}

/** Samples from..to-1, their sum, and the lowest and highest of them. */
interface TickFacts {
  from: number;
  to: number;
  sum: number;
  low: number;
  high: number;
}

/** Of points, the tick has these already; a window's own range is wider than its mean. */
function factsOf(samples: Samples, ticks: Ticks, k: number, points: boolean): TickFacts {
  const [from, to] = [ticks.start[k]!, ticks.start[k + 1]!];
  if (points) return { from, to, sum: ticks.mean[k]! * (to - from), low: ticks.low[k]!, high: ticks.high[k]! };
  let low = Infinity;
  let high = -Infinity;
  let sum = 0;
  for (let i = from; i < to; i++) {
    const x = samples[i]!;
    sum += x;
    if (x < low) low = x;
    if (x > high) high = x;
  }
  return { from, to, sum, low, high };
}

/** What pulses add to the mean of a tick, read plainly: no edge of anything else lies in it. `rest_mA`: the tick before without its pulses. NaN where pulses fill it. */
function addedPlainly(samples: Samples, { from, to, sum, low, high }: TickFacts, cut: number, rest_mA: number): number {
  const over = Math.max((low + high) / 2, rest_mA + cut);
  if (high < over || high - low < cut) return 0;
  let rest = sum;
  let count = to - from;
  // The samples beside a pulse may be partly in it: they count for neither.
  let since = from;
  const takeOut = (until: number) => {
    for (; since < until; since++) {
      rest -= samples[since]!;
      count--;
    }
  };
  if (from > 0 && samples[from - 1]! >= over) takeOut(from + 1);
  for (let i = from; i < to; i++) {
    if (samples[i]! < over) continue;
    since = Math.max(since, i - 1);
    takeOut(Math.min(to, i + 2));
  }
  if (to < samples.length && samples[to]! >= over) {
    since = Math.max(since, to - 1);
    takeOut(to);
  }
  return count >= REST_SHARE * (to - from) ? sum / (to - from) - rest / count : NaN;
}

/** The same through the opening around the tick, which keeps the edges of what is longer than the train's pulses. */
function addedOver(samples: Samples, from: number, to: number, cut: number, reach: number): number {
  const { x, bottom, offset } = around(samples, from, to, reach);
  // What is much higher, say the inrush of a wake-up, is none of the train's.
  const isOwn = (i: number) => x[i]! - bottom[i]! >= cut && x[i]! - bottom[i]! <= 2 * TRAIN_HEIGHTS * cut;
  let sum = 0;
  for (let i = from - offset; i < to - offset; i++) {
    if (isOwn(i) || (i > 0 && isOwn(i - 1)) || (i + 1 < x.length && isOwn(i + 1))) sum += x[i]! - bottom[i]!;
  }
  return sum / (to - from);
}

function spread(train: Train, ticks: Ticks, samples: Samples, points: boolean, out: Smoothed): void {
  const { firstTick, endTick, period_ticks } = train;
  const reach = Math.ceil(REACH_SHARE * train.pulse_samples) + REACH_MORE;
  const cut = cutOf(train, ticks, samples, points, reach);
  const added = new Float64Array(endTick - firstTick);
  let rest_mA = -Infinity;
  for (let k = firstTick; k < endTick; k++) {
    const [from, to] = [ticks.start[k]!, ticks.start[k + 1]!];
    let adds = to - from >= PLAIN_SAMPLES && isPlain(ticks, train, k) ? addedPlainly(samples, factsOf(samples, ticks, k, points), cut, rest_mA) : NaN;
    rest_mA = Number.isNaN(adds) ? -Infinity : ticks.mean[k]! - adds;
    if (Number.isNaN(adds)) adds = addedOver(samples, from, to, cut, reach);
    added[k - firstTick] = adds;
    out.y[k] = ticks.mean[k]! - adds;
  }
  const lift = averaged(added, Math.max(SPREAD_TICKS, 2 * period_ticks));
  for (let k = firstTick; k < endTick; k++) {
    out.y[k]! += lift[k - firstTick]!;
    out.lift[k] = lift[k - firstTick]!;
  }
}

/** @param points the ticks' lowest and highest are those of `samples` */
export function smoothTrains(samples: Samples, ticks: Ticks, trains: Train[], points: boolean): Smoothed {
  const out: Smoothed = { y: ticks.mean.slice(), lift: new Float64Array(ticks.count) };
  for (const train of trains) spread(train, ticks, samples, points, out);
  return out;
}
