// Blinks and polling: pulses that follow each other within a few seconds are part of
// the level they ride on, whose value is their mean. Such trains are found in two ways:
// ticks whose current swings as far as a wake-up, one after another over the same
// bottom; and, where ticks are single samples, among the short excursions of a first
// reading. The ticks are smoothed over each train, so that reading sees the mean.
// O(ticks + excursions).

import type { Samples } from '../capture/types.ts';
import type { Excursion } from './excursions.ts';
import type { Piece } from './pieces.ts';
import { RISE_SHARE } from './segments.ts';
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

/** In a train, pulses up to this multiple of its own height are the train. */
const TRAIN_HEIGHTS = 1.5;

/** How far the bottoms of one train's ticks may differ, as a share of its swing. */
const SAME_BOTTOM = 0.3;
/** Share of the ticks that is taken for quiet when the usual swing is measured. */
const QUIET_SHARE = 0.05;

/** Ticks first..end-1 are one train. */
export interface Train {
  firstTick: number;
  endTick: number;
  /** First sample of its first pulse, and the one after its last. */
  from: number;
  to: number;
  /** Ticks that hold its pulses, ascending. */
  busy: number[];
  /** Longest spacing of its pulses, in ticks. */
  period_ticks: number;
  /** Usual height of its pulses over their base. */
  height_mA: number;
}

function longestPeriod(hold_s: number): number {
  return Math.min(PERIOD_MAX_S, hold_s * PERIOD_PER_HOLD);
}

/** Swing over the mean that quiet ticks have: noise. */
function quietSwing(ticks: Ticks): number {
  const over = new Float64Array(ticks.count);
  for (let k = 0; k < ticks.count; k++) over[k] = ticks.high[k]! - ticks.mean[k]!;
  over.sort();
  return over[Math.floor(over.length * QUIET_SHARE)] ?? 0;
}

/** First (last, where `step` is -1) sample of a tick that is over the middle of its swing. */
function firstOver(highs: Samples, ticks: Ticks, tick: number, step: 1 | -1): number {
  const middle = (ticks.low[tick]! + ticks.high[tick]!) / 2;
  const [from, last] = [ticks.start[tick]!, ticks.start[tick + 1]! - 1];
  for (let i = step > 0 ? from : last; i >= from && i <= last; i += step) if (highs[i]! >= middle) return i;
  return from;
}

/** A pulse comes back within its tick or the next; an edge does not. */
function returns(ticks: Ticks, k: number): boolean {
  const near = SAME_BOTTOM * (ticks.high[k]! - ticks.low[k]!);
  return [k - 1, k + 1].every((n) => n < 0 || n >= ticks.count || Math.abs(ticks.low[n]! - ticks.low[k]!) <= near);
}

/** Lengthens trains over the rests between them and one alike before or after: what lies between, say a wake-up, does not end a blinking. */
function bridgeRests(trains: Train[]): Train[] {
  const out = trains.map((t) => ({ ...t }));
  for (let i = 1; i < out.length; i++) {
    const [a, b] = [out[i - 1]!, out[i]!];
    if (Math.max(a.height_mA, b.height_mA) > TRAIN_HEIGHTS * Math.min(a.height_mA, b.height_mA)) continue;
    const reach = Math.max(a.period_ticks, b.period_ticks) + 1;
    a.endTick = Math.max(a.endTick, Math.min(b.firstTick, a.endTick + reach));
    b.firstTick = Math.max(a.endTick, b.firstTick - reach);
  }
  return out;
}

/** Trains that show in the ticks themselves. `highs`: highest current of each sample. */
export function trainsInTicks(highs: Samples, ticks: Ticks, rise_mA: number, hold_s: number): Train[] {
  const trains: Train[] = [];
  if (ticks.size < 2) return trains;
  const least_mA = quietSwing(ticks) + RISE_SHARE * rise_mA;
  const spacing_max = longestPeriod(hold_s) / ticks.tick_s;
  let run: number[] = [];
  const finish = () => {
    if (run.length >= PULSES_MIN) trains.push(trainOfTicks(run, highs, ticks));
    run = [];
  };
  for (let k = 0; k < ticks.count; k++) {
    if (ticks.high[k]! - ticks.mean[k]! < least_mA || !returns(ticks, k)) continue;
    const last = run.at(-1);
    if (last !== undefined) {
      const swing = ticks.high[last]! - ticks.low[last]!;
      if (k - last > spacing_max || Math.abs(ticks.low[k]! - ticks.low[last]!) > SAME_BOTTOM * swing) finish();
    }
    run.push(k);
  }
  finish();
  return bridgeRests(trains);
}

function trainOfTicks(run: number[], highs: Samples, ticks: Ticks): Train {
  const firstTick = run[0]!;
  const last = run.at(-1)!;
  let period_ticks = 1;
  for (let i = 1; i < run.length; i++) period_ticks = Math.max(period_ticks, run[i]! - run[i - 1]!);
  const heights = run.map((k) => ticks.high[k]! - ticks.low[k]!).sort((a, b) => a - b);
  return {
    firstTick,
    endTick: Math.min(ticks.count, last + period_ticks),
    from: firstOver(highs, ticks, firstTick, 1),
    to: firstOver(highs, ticks, last, -1) + 1,
    busy: run,
    period_ticks,
    height_mA: heights[heights.length >> 1]!,
  };
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

function busyTicks(run: Pulse[], ticks: Ticks): number[] {
  const busy = new Set<number>();
  for (const pulse of run) for (let k = tickAt(ticks, pulse.from); k <= tickAt(ticks, pulse.to - 1); k++) busy.add(k);
  return [...busy].sort((a, b) => a - b);
}

/** The ticks of a run of pulses. It reaches to an excursion that is near before or after it: the level goes on until there. */
function trainOf(run: Pulse[], ticks: Ticks, before: Pulse | undefined, after: Pulse | undefined): Train {
  const first = run[0]!;
  const last = run.at(-1)!;
  const heights = run.map((p) => p.height_mA).sort((a, b) => a - b);
  let period_s = 0;
  for (let i = 1; i < run.length; i++) period_s = Math.max(period_s, run[i]!.start_s - run[i - 1]!.start_s);
  const period_ticks = Math.max(1, Math.ceil(period_s / ticks.tick_s));
  const near_s = 1.5 * period_s;
  let firstTick = tickAt(ticks, first.from);
  if (before !== undefined && first.start_s - before.end_s < near_s) firstTick = Math.min(firstTick, tickAt(ticks, before.to - 1) + 1);
  // The train's last rest belongs to it as much as its first pulse.
  let endTick = Math.max(tickAt(ticks, last.to - 1) + 1, firstTick + Math.ceil((last.start_s - first.start_s + period_s) / ticks.tick_s) + 1);
  if (after !== undefined && after.start_s - last.end_s < near_s) endTick = Math.max(firstTick + 1, tickAt(ticks, after.from));
  return { firstTick, endTick: Math.min(endTick, ticks.count), from: first.from, to: last.to, busy: busyTicks(run, ticks), period_ticks, height_mA: heights[heights.length >> 1]! };
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
  const period_s = longestPeriod(options.hold_s);
  const short = pulses.filter((p) => p.end_s - p.start_s < period_s);
  const found = runs(short, period_s, PULSES_MIN);
  if (options.points && options.spacing_s * 2 < period_s) {
    const single = short.filter((p) => p.to - p.from <= 2);
    found.push(...runs(single, ALIAS_SAMPLES * options.spacing_s, ALIAS_PULSES_MIN));
  }
  const place = new Map(pulses.map((p, i) => [p, i]));
  return found
    .map((run) => trainOf(run, ticks, pulses[place.get(run[0]!)! - 1], pulses[place.get(run.at(-1)!)! + 1]))
    .sort((a, b) => a.firstTick - b.firstTick);
}

/** Is this excursion no more than a pulse of a train? */
export function isOfTrain(from: number, to: number, height_mA: number, trains: Train[], ticks: Ticks): boolean {
  if (trains.length === 0) return false;
  const first = tickAt(ticks, from);
  const last = tickAt(ticks, to - 1);
  return trains.some((t) => first >= t.firstTick - 1 && last <= t.endTick && last - first <= t.period_ticks && height_mA <= TRAIN_HEIGHTS * t.height_mA);
}

