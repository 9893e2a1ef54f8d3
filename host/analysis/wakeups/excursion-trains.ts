// Trains of pulses found among the short excursions of a first pass over the trace, for trains that do
// not show in the ticks (levels/tick-trains.ts) because ticks are too short or pulses too long. What a
// train is: levels/trains.ts.

import { median } from 'd3-array';
import { isTrain, longestPeriod, sameHeight, TRAIN_HEIGHTS, upperDecile } from '../levels/trains.ts';
import type { Train } from '../levels/trains.ts';
import type { Piece } from '../levels/pieces.ts';
import { tickAt } from '../ticks/ticks.ts';
import type { Ticks } from '../ticks/ticks.ts';
import type { Excursion } from './excursion.ts';

/** Points may hit a blink only once in this many samples; such single hits make a train as well. */
const ALIAS_SAMPLES = 30;
/** Fewest single hits that make one. */
const ALIAS_PULSES_MIN = 8;

/** Periods that may pass between two pulses of a train, where those between are missed. */
const MISSED = 3;

/** A short excursion, as samples from..to-1. */
interface Pulse {
  from: number;
  to: number;
  start_s: number;
  end_s: number;
  height_mA: number;
}

/** What trains are found by. */
export interface TrainOptions {
  /** True for points, false for windows. */
  points: boolean;
  /** Usual spacing of the samples. */
  spacing_s: number;
  /** Shortest hold of a level. */
  hold_s: number;
  /** Start of a sample, s. */
  at: (sample: number) => number;
}

/** The ticks that hold these pulses, ascending. */
function busyTicks(run: Pulse[], ticks: Ticks): number[] {
  const busy = new Set<number>();
  for (const pulse of run) for (let k = tickAt(ticks, pulse.from); k <= tickAt(ticks, pulse.to - 1); k++) busy.add(k);
  return [...busy].sort((a, b) => a - b);
}

/**
 * The train made of a run of pulses. It extends to an excursion shortly before or after it, since the
 * level goes on until there.
 */
function trainOf(run: Pulse[], ticks: Ticks, before: Pulse | undefined, after: Pulse | undefined): Train {
  const first = run[0]!;
  const last = run.at(-1)!;
  const period_s = upperDecile(run.slice(1).map((p, i) => p.start_s - run[i]!.start_s));
  const period_ticks = Math.max(1, Math.ceil(period_s / ticks.tick_s));
  const near_s = 1.5 * period_s;
  let firstTick = tickAt(ticks, first.from);
  if (before !== undefined && first.start_s - before.end_s < near_s)
    firstTick = Math.min(firstTick, tickAt(ticks, before.to - 1) + 1);
  // The pause after the last pulse belongs to the train as much as the first pulse does.
  let endTick = Math.max(
    tickAt(ticks, last.to - 1) + 1,
    firstTick + Math.ceil((last.start_s - first.start_s + period_s) / ticks.tick_s) + 1,
  );
  if (after !== undefined && after.start_s - last.end_s < near_s)
    endTick = Math.max(firstTick + 1, tickAt(ticks, after.from));
  return {
    firstTick,
    endTick: Math.min(endTick, ticks.count),
    from: first.from,
    to: last.to,
    busy: busyTicks(run, ticks),
    period_ticks,
    pulse_samples: upperDecile(run.map((p) => p.to - p.from)),
    height_mA: median(run.map((p) => p.height_mA))!,
  };
}

/** Runs of pulses, each of which begins at most `spacing_s` after the one before it. */
function runs(pulses: Pulse[], spacing_s: number): Pulse[][] {
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
  return out;
}

/** The usual height and length of a train's pulses. */
type TrainKind = Pick<Train, 'height_mA' | 'pulse_samples'>;

const kindOf = (run: Pulse[]): TrainKind => ({
  height_mA: median(run, (p) => p.height_mA)!,
  pulse_samples: upperDecile(run.map((p) => p.to - p.from)),
});

/** Whether pulses of this kind are those of a train: no higher or longer, nor much lower. */
const isSeen = (run: TrainKind, trains: readonly TrainKind[]): boolean =>
  trains.some(
    (train) =>
      sameHeight(run.height_mA, train.height_mA) && run.pulse_samples <= TRAIN_HEIGHTS * train.pulse_samples + 2,
  );

/**
 * Trains of pulses among excursions, in order of time. O(excursions log excursions).
 *
 * @param pieces the pieces that the excursions are made of
 * @param known trains that were found before
 */
export function trainsInExcursions(
  excursions: Excursion[],
  pieces: Piece[],
  ticks: Ticks,
  options: TrainOptions,
  known: readonly Train[],
): Train[] {
  const pulses: Pulse[] = excursions.map((x) => {
    const from = pieces[x.first]!.from;
    const to = pieces[x.end - 1]!.to;
    let height_mA = 0;
    for (let j = x.first; j < x.end; j++) height_mA = Math.max(height_mA, Math.abs(pieces[j]!.start_mA - x.base_mA));
    return { from, to, start_s: options.at(from), end_s: options.at(to), height_mA };
  });
  const period_s = longestPeriod(options.hold_s);
  const short = pulses.filter((p) => p.end_s - p.start_s < period_s);
  const all = runs(short, MISSED * period_s);
  const whole = all.filter((run) =>
    isTrain(
      run.map(({ start_s }) => start_s),
      period_s,
    ),
  );
  const seen = [...known, ...whole.map((run) => kindOf(run))];
  // Too few by themselves, but of a train that is seen elsewhere in the night.
  const found = all.filter((run) => whole.includes(run) || (run.length > 1 && isSeen(kindOf(run), seen)));
  if (options.points && options.spacing_s * 2 < period_s) {
    const single = short.filter((p) => p.to - p.from <= 2);
    found.push(...runs(single, ALIAS_SAMPLES * options.spacing_s).filter((run) => run.length >= ALIAS_PULSES_MIN));
  }
  const place = new Map(pulses.map((p, i) => [p, i]));
  return found
    .map((run) => trainOf(run, ticks, pulses[place.get(run[0]!)! - 1], pulses[place.get(run.at(-1)!)! + 1]))
    .sort((a, b) => a.firstTick - b.firstTick);
}
