// From a trace to findings: wires the ideas of this folder together, in order.
//   ticks -> noise -> segments -> pieces on the sample -> pulses -> excursions
//   (once more where that shows trains of pulses that the ticks did not)
//   -> levels and steps -> asleep -> charge -> families -> verdict
// Pure: the same trace and options give the same findings. Near linear in the samples.

import type { Trace } from '../capture/types.ts';
import { asleepAt, LONG_S } from './asleep.ts';
import { chargesOf } from './charge.ts';
import type { Charges } from './charge.ts';
import { describeExcursions } from './describe.ts';
import { excursionsOf } from './excursions.ts';
import type { ExcursionsFound } from './excursions.ts';
import { familiesOf } from './families.ts';
import type { AnalysisOptions, ChargeBill, Findings, Step } from './findings.ts';
import { levelSpans } from './levels.ts';
import type { LevelSpan } from './levels.ts';
import { piecesOf } from './pieces.ts';
import type { Piece } from './pieces.ts';
import { cutPulses } from './pulses.ts';
import { resolutionOf, scaleOf } from './scale.ts';
import { segment } from './segments.ts';
import { smoothTrains } from './smooth.ts';
import { timelineOf } from './timeline.ts';
import type { Timeline } from './timeline.ts';
import { trainsInTicks } from './ticktrains.ts';
import { tickAt, ticksOf } from './ticks.ts';
import type { Ticks } from './ticks.ts';
import { trainsOf } from './trains.ts';
import type { Train } from './trains.ts';
import { codeOf, sentenceOf } from './verdict.ts';

/** Noise below this share of the smallest step changes no finding; believing in less only costs time. */
const FLOOR_PER_STEP = 1 / 40;

interface Reading extends ExcursionsFound {
  pieces: Piece[];
}

function checkOptions(options: AnalysisOptions): void {
  for (const name of ['allowance_mA', 'step_mA', 'hold_s', 'rise_mA'] as const) {
    const value = options[name];
    if (!(Number.isFinite(value) && value > 0)) throw new RangeError(`${name} is ${value}; it must be a number above 0`);
  }
}

/** Time without samples before a tick: 0 but where a gap lies. */
function gapLookup(line: Timeline, ticks: Ticks): (tick: number) => number {
  const gaps = new Map<number, number>();
  for (const i of line.gapAfter) gaps.set(tickAt(ticks, i + 1), line.at(i + 1) - line.at(i));
  return (tick) => gaps.get(tick) ?? 0;
}

function read(trace: Trace, line: Timeline, ticks: Ticks, trains: Train[], options: AnalysisOptions): Reading {
  const values = trace.mean_mA;
  const { y, lift } = smoothTrains(values, ticks, trains);
  const code_mA = resolutionOf(values);
  const scale = scaleOf(y, Math.max(code_mA / Math.sqrt(12 * ticks.size), options.step_mA * FLOOR_PER_STEP), code_mA);
  const found = segment(y, ticks, scale, options, gapLookup(line, ticks));
  const whole = piecesOf(values, ticks, found, trains, lift, options.rise_mA);
  const extremes = { mean: values, low: trace.min_mA ?? values, high: trace.max_mA ?? values };
  const bottom = trains.length === 0 ? y : y.map((value, k) => value - lift[k]!);
  const pieces = cutPulses(whole, ticks, y, bottom, extremes, options.rise_mA, scale, trains);
  const at = (sample: number) => line.at(sample);
  const reaches = (piece: Piece, current_mA: number) => {
    const last = tickAt(ticks, piece.to - 1);
    let k = tickAt(ticks, piece.from);
    while (k < last && y[k]! > current_mA) k++;
    return ticks.start[k]!;
  };
  return { pieces, ...excursionsOf(pieces, { step_mA: options.step_mA, rise_mA: options.rise_mA, hold_s: options.hold_s, at, reaches, points: !line.windows }) };
}

/** Reads the trace; where that shows more trains of pulses, reads it again with them smoothed. */
function readWithTrains(trace: Trace, line: Timeline, ticks: Ticks, options: AnalysisOptions): Reading {
  const trains = trainsInTicks(trace.mean_mA, trace.max_mA ?? trace.mean_mA, ticks, options.rise_mA, options.hold_s);
  const first = read(trace, line, ticks, trains, options);
  const more = trainsOf(first.excursions, first.pieces, ticks, { points: !line.windows, spacing_s: line.spacing_s, hold_s: options.hold_s, at: (i) => line.at(i) });
  return more.length === 0 ? first : read(trace, line, ticks, [...trains, ...more], options);
}

/** Of all that is missing, a single lost window too. */
function gapCharge(trace: Trace): number | null {
  const known = trace.gaps.flatMap((gap) => (gap.charge_mAh === null ? [] : [gap.charge_mAh]));
  return known.length === 0 ? null : known.reduce((a, b) => a + b, 0);
}

function billOf(charges: Charges, line: Timeline, gaps_mAh: number | null, wakeups: { start_s: number; charge_mAh: number }[], asleep: { sample: number; after_s: number } | null): ChargeBill {
  const cut = asleep === null ? line.samples : asleep.sample;
  const cut_s = asleep === null ? Infinity : asleep.after_s;
  let early = 0;
  let late = 0;
  for (const w of wakeups) {
    if (w.start_s < cut_s) early += w.charge_mAh;
    else late += w.charge_mAh;
  }
  const going_to_sleep_mAh = charges.between(0, cut) - early;
  const asleep_mAh = charges.between(cut, line.samples) - late;
  const wakeups_mAh = early + late;
  return { total_mAh: going_to_sleep_mAh + asleep_mAh + wakeups_mAh + (gaps_mAh ?? 0), going_to_sleep_mAh, asleep_mAh, wakeups_mAh, gaps_mAh };
}

function meanOver(charges: Charges, from: number, to: number, single_mA: number): number {
  const seconds = charges.covered_s(from, to);
  return seconds > 0 ? (charges.between(from, to) * 3600) / seconds : single_mA;
}

function highestAfter(levels: LevelSpan[], from: number): LevelSpan | null {
  return levels.slice(from).reduce<LevelSpan | null>((best, l) => (l.held_s >= LONG_S && (best === null || l.level_mA > best.level_mA) ? l : best), null);
}

/**
 * All that the trace shows. Throws a RangeError that names the sample and what to do
 * where a value is not finite, times are not ascending, or an option is not above 0.
 */
export function analyse(trace: Trace, options: AnalysisOptions): Findings {
  checkOptions(options);
  const line = timelineOf(trace);
  const ticks = ticksOf(trace, line, options.hold_s);
  const charges = chargesOf(trace, line, ticks);
  const { pieces, excursions, inside } = line.samples === 0 ? { pieces: [], excursions: [], inside: [] } : readWithTrains(trace, line, ticks, options);
  const { wakeups, dips } = describeExcursions(trace, line, charges, pieces, excursions, options);
  const { families, of } = familiesOf(wakeups.map((w) => ({ ...w.found, height_mA: w.height_mA })), line.spacing_s);
  wakeups.forEach((w, i) => (w.found.family = of[i]!));
  const { levels, steps } = levelSpans({ samples: trace.mean_mA, line, ticks, pieces, inside }, [...wakeups, ...dips], options);
  const asleepIndex = asleepAt(levels);
  const level = levels[asleepIndex];
  const asleep = level === undefined ? null : {
    after_s: line.at(level.reached),
    level_mA: level.level_mA,
    mean_mA: meanOver(charges, level.reached, line.samples, level.level_mA),
    covered_s: charges.covered_s(level.reached, line.samples),
  };
  const mean_mA = meanOver(charges, 0, line.samples, trace.mean_mA[0] ?? 0);
  const found = wakeups.map((w) => w.found);
  const facts = {
    duration_s: line.duration_s,
    mean_mA,
    allowance_mA: options.allowance_mA,
    asleep,
    highest: level === undefined ? null : highestAfter(levels, asleepIndex),
    wakeups: found,
    families,
    lastLevel_mA: levels.at(-1)?.level_mA ?? null,
  };
  const code = codeOf(facts);
  return {
    trace: {
      start: trace.start_ms === null ? null : new Date(trace.start_ms).toISOString(),
      duration_s: line.duration_s,
      samples: line.samples,
      mean_mA,
      gaps: line.gaps,
    },
    allowance_mA: options.allowance_mA,
    verdict: { code, sentence: sentenceOf(code, facts) },
    asleep,
    steps: steps satisfies Step[],
    wakeups: found,
    families,
    dips: dips.map((d) => d.found),
    charge: billOf(charges, line, gapCharge(trace), found, level === undefined ? null : { sample: level.reached, after_s: line.at(level.reached) }),
    battery: {},
    levels: levels.map(({ start_s, end_s, level_mA }) => ({ start_s, end_s, level_mA })),
  };
}
