// From a trace to findings, in this order:
//   ticks -> noise -> segments -> pieces on the sample -> pulses -> wake-ups and dips
//   (a second time where these show trains of pulses that the ticks did not)
//   -> levels and steps -> parts.ts: families -> asleep -> verdict -> charge
// Pure: the same trace and options give the same findings.

import type { Trace } from '../../contract/capture.ts';
import { chargesOf } from '../ticks/charge.ts';
import { describeExcursions } from '../wakeups/describe.ts';
import { excursionsOf } from '../wakeups/find-excursions.ts';
import type { ExcursionsFound } from '../wakeups/find-excursions.ts';
import { leastRise_mA } from '../wakeups/wakeup.ts';
import type { Findings } from '../../contract/findings.ts';
import type { AnalysisOptions } from '../../contract/settings.ts';
import type { Doubts } from '../levels/intervals.ts';
import type { LocalFit } from '../levels/local-fit.ts';
import { levelSpans } from './level-spans.ts';
import { noiseOf } from '../levels/noise.ts';
import { pollingBeside, pollingOf, shareCounted } from '../levels/polling.ts';
import { findingsOf } from './parts.ts';
import type { NightParts, RunningSum } from './parts.ts';
import { piecesOf } from '../levels/pieces.ts';
import type { Piece } from '../levels/pieces.ts';
import { cutPulses } from '../levels/pulses.ts';
import { resolutionOf, scaleOf } from '../ticks/scale.ts';
import { trainsInSamples } from '../levels/sample-trains.ts';
import { segment } from '../levels/segments.ts';
import { smoothTrains } from '../levels/train-smoothing.ts';
import { timelineOf } from '../ticks/timeline.ts';
import type { Timeline } from '../ticks/timeline.ts';
import { trainsInTicks } from '../levels/tick-trains.ts';
import { tickAt, ticksOf } from '../ticks/ticks.ts';
import type { Ticks } from '../ticks/ticks.ts';
import { trainsInExcursions } from '../wakeups/excursion-trains.ts';
import type { Train } from '../levels/trains.ts';

/** Noise below this share of the smallest step changes no finding; to assume less only costs time. */
const FLOOR_PER_STEP = 1 / 40;

/** The pieces of a trace, the wake-ups and dips among them, and what intervals are computed from. */
interface Structure extends ExcursionsFound {
  pieces: Piece[];
  doubts: Doubts;
  /** The trains of pulses in its levels, and what they add to each tick, mA. */
  trains: Train[];
  lift: Float64Array;
  /** What the ticks near a place look like, the pulses of trains spread over their time. */
  fit: LocalFit;
}

/** @throws RangeError where an option is not a number above 0 */
function checkOptions(options: AnalysisOptions): void {
  for (const name of ['allowance_mA', 'step_mA', 'hold_s', 'rise_mA'] as const) {
    const value = options[name];
    if (!(Number.isFinite(value) && value > 0))
      throw new RangeError(`${name} is ${value}; it must be a number above 0`);
  }
}

/** Seconds without samples before a tick: 0 except after a gap. */
function gapLookup(line: Timeline, ticks: Ticks): (tick: number) => number {
  const gaps = new Map<number, number>();
  for (const i of line.gapAfter) gaps.set(tickAt(ticks, i + 1), line.at(i + 1) - line.at(i));
  return (tick) => gaps.get(tick) ?? 0;
}

/** One pass over the trace, with the trains of pulses that are known so far. */
function findStructure(
  trace: Trace,
  line: Timeline,
  ticks: Ticks,
  trains: Train[],
  code_mA: number,
  options: AnalysisOptions,
): Structure {
  const values = trace.mean_mA;
  const { y, lift } = smoothTrains(values, ticks, trains, trace.max_mA === null);
  const scale = scaleOf(y, Math.max(code_mA / Math.sqrt(12 * ticks.size), options.step_mA * FLOOR_PER_STEP), code_mA);
  const { step_mA, hold_s, rise_mA } = options;
  const smallest = { step_mA, hold_s, rise_mA, leastRise_mA: leastRise_mA(rise_mA) };
  const segments = segment(y, ticks, scale, smallest, gapLookup(line, ticks));
  const whole = piecesOf(values, ticks, segments, trains, lift, rise_mA);
  const extremes = { mean: values, low: trace.min_mA ?? values, high: trace.max_mA ?? values };
  const bottom = trains.length === 0 ? y : y.map((value, k) => value - lift[k]!);
  const pieces = cutPulses(whole, ticks, y, bottom, extremes, smallest, scale, trains);
  const at = (sample: number) => line.at(sample);
  const reaches = (piece: Piece, current_mA: number) => {
    const last = tickAt(ticks, piece.to - 1);
    let k = tickAt(ticks, piece.from);
    while (k < last && y[k]! > current_mA) k++;
    return ticks.start[k]!;
  };
  const found = excursionsOf(pieces, {
    step_mA,
    rise_mA,
    hold_s,
    at,
    reaches,
    points: !line.windows,
  });
  return {
    pieces,
    ...found,
    trains,
    lift,
    fit: segments.fit,
    doubts: { samples: values, line, noise: noiseOf(y, ticks, pieces, scale), code_mA },
  };
}

/** One pass over the trace; where it shows more trains of pulses, a second one with these smoothed out. */
function findStructureWithTrains(trace: Trace, line: Timeline, ticks: Ticks, options: AnalysisOptions): Structure {
  const highest = trace.max_mA ?? trace.mean_mA;
  const least_mA = leastRise_mA(options.rise_mA);
  const code_mA = resolutionOf(trace.mean_mA);
  const trains = [
    ...trainsInTicks(trace.mean_mA, highest, ticks, least_mA, options.hold_s, code_mA),
    ...trainsInSamples(ticks, least_mA, options.hold_s),
  ];
  const first = findStructure(trace, line, ticks, trains, code_mA, options);
  const shape = {
    points: !line.windows,
    spacing_s: line.spacing_s,
    hold_s: options.hold_s,
    at: (i: number) => line.at(i),
  };
  const more = trainsInExcursions(first.excursions, first.pieces, ticks, shape, trains);
  return more.length === 0 ? first : findStructure(trace, line, ticks, [...trains, ...more], code_mA, options);
}

/** Charge of all that is missing, mAh, single lost windows included; null where none of it is known. */
function gapCharge(trace: Trace): number | null {
  const known = trace.gaps.flatMap((gap) => (gap.charge_mAh === null ? [] : [gap.charge_mAh]));
  return known.length === 0 ? null : known.reduce((a, b) => a + b, 0);
}

/** The parts of a night, with the running sum at any sample of its trace. */
export interface TraceParts extends NightParts {
  until: (sample: number) => RunningSum;
}

/**
 * The parts of a night: its levels, steps, wake-ups and dips, without families and verdict. Near linear
 * in the samples.
 *
 * @throws RangeError that names the sample and what to do where a value is not finite or times are not
 * ascending, and the option where one is not above 0
 */
export function partsOf(trace: Trace, options: AnalysisOptions): TraceParts {
  checkOptions(options);
  const line = timelineOf(trace);
  const ticks = ticksOf(trace, line, options.hold_s);
  const charges = chargesOf(trace, line, ticks);
  const { pieces, excursions, inside, doubts, trains, lift, fit } = findStructureWithTrains(
    trace,
    line,
    ticks,
    options,
  );
  const { wakeups, dips } = describeExcursions(trace, charges, pieces, excursions, { ticks, fit }, doubts, options);
  const { levels, steps } = levelSpans(
    { samples: trace.mean_mA, line, ticks, pieces, inside, doubts },
    [...wakeups, ...dips],
    options,
  );
  const share = shareCounted(trains, ticks.size);
  const until = (sample: number): RunningSum => ({
    t_s: line.at(sample),
    charge_mAh: charges.between(0, sample),
    covered_s: charges.covered_s(0, sample),
  });
  return {
    start_ms: trace.start_ms,
    duration_s: line.duration_s,
    samples: line.samples,
    spacing_s: line.spacing_s,
    windows: line.windows,
    gaps: line.gaps,
    levels: levels.map(({ sample, course, start_s, end_s, level_mA, level_95_mA, held_s }) => ({
      start_s,
      end_s,
      level_mA,
      level_95_mA,
      held_s,
      begun: until(sample),
      course: course.map((part) => ({ ...part, begun: until(part.sample) })),
    })),
    steps,
    wakeups,
    dips,
    polling: pollingBeside(
      trains.map((train) => pollingOf(train, trace.max_mA ?? trace.mean_mA, ticks, (i) => line.at(i), lift, share)),
      wakeups,
    ),
    whole: until(line.samples),
    gaps_mAh: gapCharge(trace),
    first_mA: trace.mean_mA[0] ?? 0,
    until,
  };
}

/**
 * Everything that the trace shows. Near linear in the samples.
 *
 * @throws RangeError as `partsOf` does
 */
export const analyse = (trace: Trace, options: AnalysisOptions): Findings =>
  findingsOf(partsOf(trace, options), options);
