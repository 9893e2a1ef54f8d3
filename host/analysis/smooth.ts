// Spreads the pulses of a train over its time, so that its ticks show the mean of the
// train as one level, while a step or a wake-up of what lies under it keeps its edge.
// Under a pulse, the bottom is that of the nearest tick without one; what the pulses
// add is averaged over some periods and put on every tick. O(ticks in trains).

import type { Ticks } from './ticks.ts';
import type { Train } from './trains.ts';

/** Ticks over which what the pulses add is averaged, each side; or two periods where that is longer. */
const SPREAD_TICKS = 60;
/** A train with pulses in more of its ticks than this has none to tell its bottom by. */
const MOST_BUSY = 0.8;
/** Share of ticks taken for quiet when the noise under the mean is measured. */
const QUIET_SHARE = 0.05;

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

/** The tick without a pulse that a busy one shares its bottom with; -1 where none is near. */
function quietNear(ticks: Ticks, busy: Uint8Array, first: number, k: number, reach: number): number {
  const isQuiet = (n: number) => n >= 0 && n < ticks.count && busy[n - first] !== 1;
  let before = -1;
  let after = -1;
  for (let d = 1; d <= reach && before < 0; d++) if (isQuiet(k - d)) before = k - d;
  for (let d = 1; d <= reach && after < 0; d++) if (isQuiet(k + d)) after = k + d;
  if (before < 0 || after < 0) return Math.max(before, after);
  return ticks.mean[before]! <= ticks.mean[after]! ? before : after;
}

function spread(train: Train, ticks: Ticks, out: Smoothed): void {
  const { firstTick, endTick, period_ticks } = train;
  const busy = new Uint8Array(endTick - firstTick);
  for (const k of train.busy) busy[k - firstTick] = 1;
  const added = new Float64Array(endTick - firstTick);
  for (const k of train.busy) {
    const quiet = quietNear(ticks, busy, firstTick, k, period_ticks + 1);
    const bottom = quiet >= 0 ? ticks.mean[quiet]! : ticks.mean[k]!;
    added[k - firstTick] = ticks.mean[k]! - bottom;
    out.y[k] = bottom;
  }
  const lift = averaged(added, Math.max(SPREAD_TICKS, 2 * period_ticks));
  for (let k = firstTick; k < endTick; k++) {
    out.y[k]! += lift[k - firstTick]!;
    out.lift[k] = lift[k - firstTick]!;
  }
}

/** Where nearly all ticks hold a pulse their means already are the train's; only ripple is left to average. */
function calm(train: Train, ticks: Ticks, usual_mA: number, out: Smoothed): void {
  const { busy, period_ticks } = train;
  const y = averaged(Float64Array.from(busy, (k) => ticks.mean[k]!), period_ticks);
  const low = averaged(Float64Array.from(busy, (k) => ticks.low[k]!), SPREAD_TICKS);
  busy.forEach((k, i) => {
    out.y[k] = y[i]!;
    out.lift[k] = Math.max(0, y[i]! - low[i]! - usual_mA);
  });
}

/** How far quiet ticks reach under their mean: noise. */
function usualDepth(ticks: Ticks): number {
  const depth = ticks.mean.map((mean, k) => mean - ticks.low[k]!).sort();
  return depth[Math.floor(QUIET_SHARE * depth.length)] ?? 0;
}

export function smoothTrains(ticks: Ticks, trains: Train[]): Smoothed {
  const out: Smoothed = { y: ticks.mean.slice(), lift: new Float64Array(ticks.count) };
  const usual_mA = trains.length === 0 ? 0 : usualDepth(ticks);
  for (const train of trains) {
    const all = train.busy.length > MOST_BUSY * (train.endTick - train.firstTick);
    if (all) calm(train, ticks, usual_mA, out);
    else spread(train, ticks, out);
  }
  return out;
}
