// Blinks and polling: pulses that follow each other within a few seconds are part of
// the level they ride on, whose value is their mean. Finds such trains among the short
// excursions of a first reading and smooths the ticks over each, so that a second
// reading sees the mean. O(excursions + ticks in trains).

import type { Excursion } from './excursions.ts';
import type { Piece } from './pieces.ts';
import { tickAt } from './ticks.ts';
import type { Ticks } from './ticks.ts';

/** "A few seconds": longest period of a blink or of polling; and as a share of the shortest hold, so that a train is a level. */
const PERIOD_MAX_S = 5;
const PERIOD_PER_HOLD = 1 / 4;
/** Fewest pulses that make a train. */
const PULSES_MIN = 4;
/** Points can hit a blink once in so many; such single hits make a train as well, if there are enough. */
const ALIAS_SAMPLES = 30;
const ALIAS_PULSES_MIN = 8;

/** Ticks first..end-1 are one train. */
export interface Train {
  firstTick: number;
  endTick: number;
  /** Longest spacing of its pulses, in ticks. */
  period_ticks: number;
  /** Usual height of its pulses over their base. */
  height_mA: number;
}

interface Pulse {
  from: number;
  to: number;
  start_s: number;
  end_s: number;
  height_mA: number;
}

export interface TrainOptions {
  points: boolean;
  spacing_s: number;
  hold_s: number;
  at: (sample: number) => number;
}

function trainOf(run: Pulse[], ticks: Ticks): Train {
  const first = run[0]!;
  const last = run.at(-1)!;
  const heights = run.map((p) => p.height_mA).sort((a, b) => a - b);
  let period_s = 0;
  for (let i = 1; i < run.length; i++) period_s = Math.max(period_s, run[i]!.start_s - run[i - 1]!.start_s);
  const period_ticks = Math.max(1, Math.ceil(period_s / Math.max(ticks.tick_s, 1e-9)));
  // The train's last rest belongs to it as much as its first pulse.
  const endTick = Math.min(ticks.count, tickAt(ticks, first.from) + Math.ceil((last.start_s - first.start_s + period_s) / ticks.tick_s) + 1);
  return { firstTick: tickAt(ticks, first.from), endTick: Math.max(endTick, tickAt(ticks, last.to - 1) + 1), period_ticks, height_mA: heights[heights.length >> 1]! };
}

function runs(pulses: Pulse[], spacing_s: number, least: number): Pulse[][] {
  const out: Pulse[][] = [];
  let run: Pulse[] = [];
  for (const pulse of pulses) {
    if (run.length > 0 && pulse.start_s - run.at(-1)!.start_s > spacing_s) {
      out.push(run);
      run = [];
    }
    run.push(pulse);
  }
  out.push(run);
  return out.filter((r) => r.length >= least);
}

export function trainsOf(excursions: Excursion[], pieces: Piece[], ticks: Ticks, options: TrainOptions): Train[] {
  const pulses: Pulse[] = excursions.map((x) => {
    const from = pieces[x.first]!.from;
    const to = pieces[x.end - 1]!.to;
    let height_mA = 0;
    for (let j = x.first; j < x.end; j++) height_mA = Math.max(height_mA, Math.abs(pieces[j]!.start_mA - x.base_mA));
    return { from, to, start_s: options.at(from), end_s: options.at(to), height_mA };
  });
  const period_s = Math.min(PERIOD_MAX_S, options.hold_s * PERIOD_PER_HOLD);
  const short = pulses.filter((p) => p.end_s - p.start_s < period_s);
  const found = runs(short, period_s, PULSES_MIN);
  if (options.points && options.spacing_s * 2 < period_s) {
    const single = short.filter((p) => p.to - p.from <= 2);
    found.push(...runs(single, ALIAS_SAMPLES * options.spacing_s, ALIAS_PULSES_MIN));
  }
  return found.map((run) => trainOf(run, ticks)).sort((a, b) => a.firstTick - b.firstTick);
}

/** Tick means, each inside a train replaced by the mean over about two of its periods, within the train. */
export function smoothTrains(mean: Float64Array, trains: Train[]): Float64Array {
  const y = mean.slice();
  for (const { firstTick, endTick, period_ticks } of trains) {
    const half = period_ticks;
    const sum = new Float64Array(endTick - firstTick + 1);
    for (let k = firstTick; k < endTick; k++) sum[k - firstTick + 1] = sum[k - firstTick]! + mean[k]!;
    for (let k = firstTick; k < endTick; k++) {
      const from = Math.max(0, k - firstTick - half);
      const to = Math.min(endTick - firstTick, k - firstTick + half + 1);
      y[k] = (sum[to]! - sum[from]!) / (to - from);
    }
  }
  return y;
}
