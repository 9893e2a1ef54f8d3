// Blinks and polling: pulses that follow each other within a few seconds are part of
// the level they ride on, whose value is their mean. What a train is; and how one is
// found among the short excursions of a first reading, where ticks are too short, or
// pulses too long, for it to show in the ticks. O(excursions).

import type { Excursion } from './excursions.ts';
import type { Piece } from './pieces.ts';
import { tickAt } from './ticks.ts';
import type { Ticks } from './ticks.ts';

/** "A few seconds": longest period of a blink or of polling; and as a share of the shortest hold, so that a train is a level. */
const PERIOD_MAX_S = 5;
const PERIOD_PER_HOLD = 1 / 4;
/** Fewest pulses that make a train. */
export const PULSES_MIN = 4;
/** Points can hit a blink once in so many; such single hits make a train as well, if there are enough. */
const ALIAS_SAMPLES = 30;
const ALIAS_PULSES_MIN = 8;

/** In a train, pulses up to this multiple of its own height are the train. */
export const TRAIN_HEIGHTS = 1.5;

/** Ticks first..end-1 are one train. */
export interface Train {
  firstTick: number;
  endTick: number;
  /** First sample of its first pulse, and the one after its last. */
  from: number;
  to: number;
  /** Ticks that hold its pulses, ascending. */
  busy: number[];
  /** Spacing of its pulses, in ticks; few are longer. */
  period_ticks: number;
  /** Length of its pulses, in samples; few are longer. */
  pulse_samples: number;
  /** Usual height of its pulses over their base. */
  height_mA: number;
}

export function longestPeriod(hold_s: number): number {
  return Math.min(PERIOD_MAX_S, hold_s * PERIOD_PER_HOLD);
}

/** The value that nine of ten do not exceed. */
export function mostly(values: number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.ceil(0.9 * sorted.length) - 1] ?? 0;
}

export function median(values: number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[sorted.length >> 1] ?? 0;
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
  const period_s = mostly(run.slice(1).map((p, i) => p.start_s - run[i]!.start_s));
  const period_ticks = Math.max(1, Math.ceil(period_s / ticks.tick_s));
  const near_s = 1.5 * period_s;
  let firstTick = tickAt(ticks, first.from);
  if (before !== undefined && first.start_s - before.end_s < near_s) firstTick = Math.min(firstTick, tickAt(ticks, before.to - 1) + 1);
  // The train's last rest belongs to it as much as its first pulse.
  let endTick = Math.max(tickAt(ticks, last.to - 1) + 1, firstTick + Math.ceil((last.start_s - first.start_s + period_s) / ticks.tick_s) + 1);
  if (after !== undefined && after.start_s - last.end_s < near_s) endTick = Math.max(firstTick + 1, tickAt(ticks, after.from));
  return { firstTick, endTick: Math.min(endTick, ticks.count), from: first.from, to: last.to, busy: busyTicks(run, ticks), period_ticks, pulse_samples: mostly(run.map((p) => p.to - p.from)), height_mA: median(run.map((p) => p.height_mA)) };
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
  return trains.some((t) => first >= t.firstTick - 1 && last <= t.endTick && to - from <= 1.5 * t.pulse_samples + 2 && height_mA <= TRAIN_HEIGHTS * t.height_mA);
}
