// Spreads the pulses of a train over its time, so that its ticks show the mean of the
// train as one level, while a step or a wake-up of what lies under it keeps its edge.
// In a tick with no other edge, pulses are what is well over its rest. In the others
// they are what is well over the morphological opening (Serra 1982), which takes away
// what is shorter than its reach and keeps the edges of all that is longer. What the
// pulses add is averaged over some periods and put on every tick. O(samples in trains).

import type { Samples } from '../../contract/capture.ts';
import type { Ticks } from '../ticks/ticks.ts';
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

/**
 * Smallest of each `reach` values from i on, of values that have `reach - 1` more behind
 * them: spans of 1, 2, 4, ... values, and two that overlap make up the reach. In place,
 * O(n log reach): for the few samples in a pulse quicker than van Herk's two passes.
 */
function leastAhead(x: Float64Array, count: number, reach: number): void {
  let n = count + reach - 1;
  let span = 1;
  for (; 2 * span <= reach; span *= 2) {
    n -= span;
    for (let i = 0; i < n; i++) if (x[i + span]! < x[i]!) x[i] = x[i + span]!;
  }
  const rest = reach - span;
  if (rest > 0) for (let i = 0; i < count; i++) if (x[i + rest]! < x[i]!) x[i] = x[i + rest]!;
}

/**
 * `x` without what rises for less than `reach` samples. Of a stretch that an end cuts off, only what is there counts.
 */
export function opened(x: Float64Array, reach: number): Float64Array {
  const n = x.length;
  const over = reach - 1;
  const out = new Float64Array(n + 2 * over).fill(Infinity);
  out.set(x);
  leastAhead(out, n, reach);
  // The greatest of each `reach` values up to i is the smallest of the negated ones, told from `over` before them.
  for (let i = n - 1; i >= 0; i--) out[i + over] = -out[i]!;
  out.fill(Infinity, 0, over);
  leastAhead(out, n, reach);
  for (let i = 0; i < n; i++) out[i] = -out[i]!;
  return out.subarray(0, n);
}

/** Samples from..to-1 and what lies beside them as far as pulses reach, and their opening. */
function around(
  samples: Samples,
  from: number,
  to: number,
  reach: number,
): { x: Float64Array; bottom: Float64Array; offset: number } {
  const offset = Math.max(0, from - 2 * reach);
  const x = new Float64Array(samples.subarray(offset, to + 2 * reach));
  return { x, bottom: opened(x, reach), offset };
}

/** Do the ticks beside it rest on the same current, and does nothing in it rise over the train? */
function isPlain(ticks: Ticks, train: Train, k: number): boolean {
  const near = SAME_FLOOR * train.height_mA;
  const most = TRAIN_HEIGHTS * train.height_mA;
  const floor = ticks.low[k]!;
  for (let n = Math.max(0, k - 1); n <= k + 1 && n < ticks.count; n++) {
    if (Math.abs(ticks.low[n]! - floor) > near || ticks.high[n]! - floor > most) return false;
  }
  return true;
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

/**
 * What pulses add to the mean of a tick, read plainly: no edge of anything else lies in it. `rest_mA`: the tick before
 * without its pulses. NaN where pulses fill it.
 */
function addedPlainly(samples: Samples, { from, to, sum, low, high }: TickFacts, cut: number, rest_mA: number): number {
  const over = Math.max((low + high) / 2, rest_mA + cut);
  if (high < over || high - low < cut) return 0;
  let rest = sum;
  let count = to - from;
  // The samples beside a pulse may be partly in it: they count for neither. The pulse
  // that ends just before the tick and the one that begins just after it are such too.
  const last = Math.min(to, samples.length - 1);
  let since = from;
  for (let i = Math.max(0, from - 1); i <= last; i++) {
    if (samples[i]! < over) continue;
    let until = i + 1;
    while (until <= last && samples[until]! >= over) until++;
    const end = Math.min(to, until + 1);
    for (let j = Math.max(since, i - 1); j < end; j++) {
      rest -= samples[j]!;
      count--;
    }
    since = end;
    i = until;
  }
  return count >= REST_SHARE * (to - from) ? sum / (to - from) - rest / count : NaN;
}

/** The same through the opening around the tick, which keeps the edges of what is longer than the train's pulses. */
function addedOver(samples: Samples, from: number, to: number, cut: number, reach: number): number {
  const { x, bottom, offset } = around(samples, from, to, reach);
  // What is much higher, say the inrush of a wake-up, is none of the train's.
  const most = 2 * TRAIN_HEIGHTS * cut;
  // The sample beside a pulse is partly in it. Until where that is known: `own`.
  let sum = 0;
  let own = -2;
  for (let i = Math.max(0, from - offset - 1); i < Math.min(x.length, to - offset + 1); i++) {
    const rise = x[i]! - bottom[i]!;
    if (rise < cut || rise > most) continue;
    for (let j = Math.max(from - offset, own + 2, i - 1); j <= i + 1 && j < to - offset; j++) sum += x[j]! - bottom[j]!;
    own = i;
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
    let adds =
      to - from >= PLAIN_SAMPLES && isPlain(ticks, train, k)
        ? addedPlainly(samples, factsOf(samples, ticks, k, points), cut, rest_mA)
        : NaN;
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
