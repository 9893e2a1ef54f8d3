// Spreads the pulses of a train over its time, so that its ticks show the mean of the train as one
// level, while a step or a wake-up underneath keeps its edge. In a tick without any other edge, the
// pulses are what lies well over the rest of the tick. In other ticks they are what lies well over the
// morphological opening (Serra 1982), which removes whatever is shorter than its reach and keeps the
// edges of all that is longer. Where a tick is a single reading, each is told apart by itself. What the
// pulses add is averaged over some periods and added to every tick of the train. O(samples in trains).

import type { Samples } from '../../contract/capture.ts';
import type { Ticks } from '../ticks/ticks.ts';
import { TRAIN_HEIGHTS } from './trains.ts';
import type { Train } from './trains.ts';

/** Ticks on each side over which the pulses' share is averaged; two periods where that is longer. */
const SPREAD_TICKS = 60;
/** The same where a tick is a reading: where pulses come at random, their share over less time wanders by a step. */
const SPREAD_READINGS = 1800;
/** Reach of the opening over the length of a train's pulses, which nine of ten do not exceed. */
const REACH_SHARE = 1.25;
/** Samples added to that reach, since a pulse may fill the samples at its edges only in part. */
const REACH_MORE = 2;

/** Ticks of a train from which the height of its pulses is taken. */
const TICKS_FOR_CUT = 9;
/** Fewest samples in a tick whose pulses can be told from its rest without its neighbours. */
const PLAIN_SAMPLES = 8;
/** Least share of a tick without pulses that its rest is taken from. */
const REST_SHARE = 0.2;
/** The lowest currents of neighbouring ticks are alike within this share of the pulses' height. */
const SAME_FLOOR = 0.3;

/** Tick means with the pulses of trains spread over their time, mA. */
export interface Smoothed {
  /** The means. */
  y: Float64Array;
  /** How much of `y` is spread pulses: the samples between pulses lie lower by this. */
  lift: Float64Array;
}

/** Mean of up to `half` values on each side of each value, and the value itself. */
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
 * Replaces each of the first `count` values by the smallest of the `reach` values from it on. Spans of
 * 1, 2, 4, ... values are used, two of which overlap to make up the reach. O(n log reach), which for
 * the few samples of a pulse is faster than van Herk's two passes.
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
 * The morphological opening of `x`: without whatever rises for fewer than `reach` samples. Of a
 * stretch cut off by an end of `x`, only the part that is there counts. O(n log reach), and a copy.
 * Source: Serra 1982.
 */
export function opened(x: Float64Array, reach: number): Float64Array {
  const n = x.length;
  const over = reach - 1;
  const out = new Float64Array(n + 2 * over).fill(Infinity);
  out.set(x);
  leastAhead(out, n, reach);
  // The greatest of the `reach` values up to i is the smallest of them negated, taken from `over`
  // places earlier.
  for (let i = n - 1; i >= 0; i--) out[i + over] = -out[i]!;
  out.fill(Infinity, 0, over);
  leastAhead(out, n, reach);
  for (let i = 0; i < n; i++) out[i] = -out[i]!;
  return out.subarray(0, n);
}

/** Samples from..to-1 with those beside them as far as pulses reach, and the opening of all of these. */
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

/** True when tick k and its neighbours rest on the same current and nothing in them rises over the train. */
function isPlain(ticks: Ticks, train: Train, k: number): boolean {
  const near = SAME_FLOOR * train.height_mA;
  const most = TRAIN_HEIGHTS * train.height_mA;
  const floor = ticks.low[k]!;
  for (let n = Math.max(0, k - 1); n <= k + 1 && n < ticks.count; n++) {
    if (Math.abs(ticks.low[n]! - floor) > near || ticks.high[n]! - floor > most) return false;
  }
  return true;
}

/** Half of the usual height of the pulses over the opening, mA: above it lies a pulse. */
function cutOf(train: Train, ticks: Ticks, samples: Samples, points: boolean, reach: number): number {
  const stride = Math.ceil(train.busy.length / TICKS_FOR_CUT);
  const tops: number[] = [];
  for (let n = 0; n < train.busy.length; n += stride) {
    const k = train.busy[n]!;
    const [from, to] = [ticks.start[k]!, ticks.start[k + 1]!];
    if (points && to - from >= PLAIN_SAMPLES && isPlain(ticks, train, k)) {
      tops.push(ticks.high[k]! - ticks.low[k]!);
      continue;
    }
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

/** For points the tick knows these already; for windows it knows the range within them, which is wider. */
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

/** The first of samples from..to-1 that is not below `over`; `to` where all are. Four at a time: nearly all are. */
function firstOver(x: Samples, from: number, to: number, over: number): number {
  let i = from;
  while (i + 3 < to && x[i]! < over && x[i + 1]! < over && x[i + 2]! < over && x[i + 3]! < over) i += 4;
  while (i < to && x[i]! < over) i++;
  return i;
}

/**
 * What pulses add to the mean of a tick that holds no other edge, mA; NaN where they fill it.
 * `rest_mA` is the mean of the tick before it without pulses.
 */
function addedPlainly(samples: Samples, { from, to, sum, low, high }: TickFacts, cut: number, rest_mA: number): number {
  const over = Math.max((low + high) / 2, rest_mA + cut);
  if (high < over || high - low < cut) return 0;
  let rest = sum;
  let count = to - from;
  // The samples beside a pulse may be partly in it and count for neither. This holds also for a pulse
  // that ends just before the tick or begins just after it.
  const last = Math.min(to, samples.length - 1);
  let since = from;
  for (let i = Math.max(0, from - 1); i <= last; i++) {
    i = firstOver(samples, i, last + 1, over);
    if (i > last) break;
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

/**
 * The same from the opening around the tick, which keeps the edges of whatever outlasts the train's
 * pulses.
 */
function addedOver(samples: Samples, from: number, to: number, cut: number, reach: number): number {
  const { x, bottom, offset } = around(samples, from, to, reach);
  // Whatever is much higher, such as the inrush of a wake-up, is not part of the train.
  const most = 2 * TRAIN_HEIGHTS * cut;
  // A sample beside a pulse is partly in it; `own` is the last sample of a pulse seen so far.
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

/** Between two readings of a train the current under it changes; what counts of that, as a share of its height. */
const CHANGE_SHARE = 0.25;

/**
 * What the pulses add to each of ticks first..end-1, each a single reading, mA: all of the train's height where the
 * load is on, else nothing. Of all ways to tell the readings apart it is the one under which the current changes least
 * (least total of the changes, none counted beyond a quarter of the height: Viterbi 1967). Unlike an opening it
 * sees an edge that lies among readings with the load on. O(ticks).
 */
function addedByReadings(mean: Float64Array, first: number, end: number, height_mA: number): Float64Array {
  const most_mA = CHANGE_SHARE * height_mA;
  const change = (from_mA: number, to_mA: number) => Math.min(most_mA, Math.abs(to_mA - from_mA));
  const n = end - first;
  // Bit 0: the best way to a reading that is off comes from one that is on; bit 1: the same for one that is on.
  const from = new Uint8Array(n);
  let [off, on] = [0, 0];
  for (let i = 1; i < n; i++) {
    const before = mean[first + i - 1]!;
    const now = mean[first + i]!;
    const [offOff, onOff] = [off + change(before, now), on + change(before - height_mA, now)];
    const [offOn, onOn] = [off + change(before, now - height_mA), on + change(before - height_mA, now - height_mA)];
    from[i] = (onOff < offOff ? 1 : 0) | (onOn < offOn ? 2 : 0);
    [off, on] = [Math.min(offOff, onOff), Math.min(offOn, onOn)];
  }
  const added = new Float64Array(n);
  for (let i = n - 1, isOn = on < off; i >= 0; i--) {
    added[i] = isOn ? height_mA : 0;
    isOn = (from[i]! & (isOn ? 2 : 1)) !== 0;
  }
  return added;
}

/** The same where ticks hold several samples. O(samples in the train). */
function addedInTicks(train: Train, ticks: Ticks, samples: Samples, points: boolean): Float64Array {
  const { firstTick, endTick } = train;
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
  }
  return added;
}

/** Spreads one train: writes the tick means and what was added to them. */
function spread(train: Train, ticks: Ticks, samples: Samples, points: boolean, out: Smoothed): void {
  const { firstTick, endTick, period_ticks, height_mA } = train;
  const added = train.inReadings
    ? addedByReadings(ticks.mean, firstTick, endTick, height_mA)
    : addedInTicks(train, ticks, samples, points);
  for (let k = firstTick; k < endTick; k++) out.y[k] = ticks.mean[k]! - added[k - firstTick]!;
  const lift = averaged(added, Math.max(train.inReadings ? SPREAD_READINGS : SPREAD_TICKS, 2 * period_ticks));
  for (let k = firstTick; k < endTick; k++) {
    out.y[k]! += lift[k - firstTick]!;
    out.lift[k] = lift[k - firstTick]!;
  }
}

/**
 * Tick means with the pulses of all trains spread over their time. O(ticks + samples in trains).
 * Source of the opening: Serra 1982.
 *
 * @param points true where the ticks' lowest and highest current are those of `samples`
 */
export function smoothTrains(samples: Samples, ticks: Ticks, trains: Train[], points: boolean): Smoothed {
  const out: Smoothed = { y: ticks.mean.slice(), lift: new Float64Array(ticks.count) };
  for (const train of trains) spread(train, ticks, samples, points, out);
  return out;
}
