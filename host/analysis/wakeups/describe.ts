// What the findings say about each wake-up and dip: when it was, how high, how much charge it took,
// and the steps inside it. What counts as one: wakeup.ts and dip.ts.

import type { Samples, Trace } from '../../contract/capture.ts';
import type { Charges } from '../ticks/charge.ts';
import type { Excursion } from './excursion.ts';
import type { Step, WakeUp } from '../../contract/findings.ts';
import type { AnalysisOptions } from '../../contract/settings.ts';
import { chargeInterval, stepDoubt } from '../levels/intervals.ts';
import type { Doubts } from '../levels/intervals.ts';
import type { Piece } from '../levels/pieces.ts';
import { isHeld } from '../levels/step.ts';
import { edgeOf, levelsOf } from '../levels/staircase.ts';
import type { LocalFit } from '../levels/local-fit.ts';
import type { Ticks } from '../ticks/ticks.ts';
import type { Timeline } from '../ticks/timeline.ts';
import { changeBetween, codeWithin, isSlide } from './slide.ts';

/** A window beside an excursion is partly in it from this share of the height on; less may be noise. */
const PART_MIN = 0.05;

/**
 * A wake-up or dip as it stands in the findings, its height, and the pieces firstPiece..endPiece-1 it
 * is made of.
 */
export interface DescribedExcursion {
  found: WakeUp;
  /** Mean above (for dips, below) the level before it, mA; the peak may be only an inrush. */
  height_mA: number;
  /** Its highest (lowest) current over (below) that; null where windows do not tell theirs. */
  top_mA: number | null;
  firstPiece: number;
  endPiece: number;
}

/** How much of window i lies at `top_mA` rather than at `base_mA`, 0 to 1. */
function shareAtTop(samples: Samples, i: number, base_mA: number, top_mA: number): number {
  return Math.max(0, Math.min(1, (samples[i]! - base_mA) / (top_mA - base_mA)));
}

/** A point still farther from the level than this share of the height is on its way and not yet back. */
const WAY_DOWN_SHARE = 0.2;
/** Most points after an excursion that are examined for being on the way. */
const WAY_DOWN_POINTS = 3;

/** Level before an excursion and after it, how near counts as back, and its own current at both ends. */
interface Surroundings {
  base_mA: number;
  after_mA: number;
  near_mA: number;
  entry_mA: number;
  exit_mA: number;
}

/**
 * The first point from `to` on that has come back to the level after an excursion; `to` where none soon
 * does.
 */
function firstBack(samples: Samples, line: Timeline, to: number, x: Surroundings): number {
  const height = x.exit_mA - x.after_mA;
  const away = Math.sign(height);
  const near_mA = Math.max(x.near_mA, WAY_DOWN_SHARE * Math.abs(height));
  const last = Math.min(to + WAY_DOWN_POINTS, line.samples - 1);
  for (let i = to; i < last; i++) if (away * (samples[i]! - x.after_mA) <= near_mA) return i;
  return to;
}

/** When an excursion begins and ends, and the sample after its last one. */
interface ExcursionSpan {
  to: number;
  start_s: number;
  end_s: number;
}

/**
 * When samples from..to-1 of an excursion begin and end. A window at its edge is partly in it, as far
 * as its mean says.
 */
function spanOf(samples: Samples, line: Timeline, from: number, to: number, x: Surroundings): ExcursionSpan {
  let start_s = line.at(from);
  if (!line.windows) {
    const back = firstBack(samples, line, to, x);
    return { to: back, start_s, end_s: back < line.samples ? line.at(back) : line.duration_s };
  }
  let end_s = line.at(to - 1) + line.lasts(to - 1);
  if (to - from === 1) {
    const width_s = line.lasts(from) * shareAtTop(samples, from, x.base_mA, x.entry_mA);
    start_s += (line.lasts(from) - width_s) / 2;
    return { to, start_s, end_s: start_s + width_s };
  }
  start_s += line.lasts(from) * (1 - shareAtTop(samples, from, x.base_mA, x.entry_mA));
  const before = from > 0 ? shareAtTop(samples, from - 1, x.base_mA, x.entry_mA) : 0;
  if (before > PART_MIN) start_s -= line.lasts(from - 1) * before;
  end_s -= line.lasts(to - 1) * (1 - shareAtTop(samples, to - 1, x.after_mA, x.exit_mA));
  const after = to < line.samples ? shareAtTop(samples, to, x.after_mA, x.exit_mA) : 0;
  if (after > PART_MIN) end_s += line.lasts(to) * after;
  return { to, start_s, end_s: Math.max(end_s, start_s) };
}

/** The highest (sign 1) or lowest (sign -1) of samples from..to-1. */
function extremeOf(samples: Samples, from: number, to: number, sign: number): number {
  let extreme = samples[from]!;
  for (let i = from + 1; i < to; i++) if (sign * (samples[i]! - extreme) > 0) extreme = samples[i]!;
  return extreme;
}

/** The ticks of the trace, and what those near a place look like. */
export interface TickShape {
  ticks: Ticks;
  fit: LocalFit;
}

/**
 * Describes all wake-ups and dips of a trace, each kind in order of time; families are left null.
 * O(samples inside them).
 *
 * @param pieces the pieces that the excursions are made of
 * @param doubts what the intervals of inner steps are computed from
 */
// oxlint-disable-next-line max-lines-per-function -- one pass over the samples that all descriptions share
export function describeExcursions(
  trace: Trace,
  charges: Charges,
  pieces: Piece[],
  excursions: Excursion[],
  { ticks, fit }: TickShape,
  doubts: Doubts,
  options: AnalysisOptions,
): { wakeups: DescribedExcursion[]; dips: DescribedExcursion[] } {
  const { line } = doubts;
  const wakeups: DescribedExcursion[] = [];
  const dips: DescribedExcursion[] = [];
  const lasts_s = (from: number, to: number) => charges.covered_s(from, to);
  for (const x of excursions) {
    const from = pieces[x.first]!.from;
    const back = pieces[x.end]!;
    const to = back.from;
    const sign = x.kind === 'wakeup' ? 1 : -1;
    const extremes = (sign > 0 ? trace.max_mA : trace.min_mA) ?? trace.mean_mA;
    const peak_mA = extremeOf(extremes, from, to, sign);
    const after_mA = back.pulse ? back.mean_mA : back.start_mA;
    const entry_mA = pieces[x.first]!.start_mA;
    const exit_mA = pieces[x.end - 1]!.end_mA;
    const span = spanOf(trace.mean_mA, line, from, to, {
      base_mA: x.base_mA,
      after_mA,
      near_mA: x.near_mA,
      entry_mA,
      exit_mA,
    });
    const charge_mAh =
      sign > 0
        ? charges.above(from, span.to, x.base_mA)
        : charges.between(from, span.to) - (x.base_mA * charges.covered_s(from, span.to)) / 3600;
    const until_s = to < line.samples ? line.at(to) : line.at(to - 1) + (line.windows ? line.lasts(to - 1) : 0);
    const dark_s = Math.max(0, until_s - line.at(from) - charges.covered_s(from, to));
    const seconds = span.end_s - span.start_s - dark_s;
    const levels = levelsOf(pieces, x.first, x.end, null, {
      step_mA: options.step_mA,
      hold_s: options.hold_s,
      lasts_s,
    });
    const allHeld = levels.every((level) => isHeld(level.held_s, options.hold_s));
    const steps: Step[] = [];
    let code_mA: number | null = null;
    for (let i = 1; allHeld && i < levels.length; i++) {
      const [before, after] = [levels[i - 1]!, levels[i]!];
      code_mA ??= codeWithin(trace.mean_mA, from, to);
      if (isSlide(fit, changeBetween(pieces, ticks, before, after, code_mA))) continue;
      const edge = edgeOf(pieces, trace.mean_mA, before, after);
      const [last, first] = [pieces[before.last]!, pieces[after.first]!];
      steps.push({
        t_s: line.at(edge.sample),
        from_mA: edge.from_mA,
        to_mA: edge.to_mA,
        ...stepDoubt(doubts, edge, { last, first, edge: [last, first] }),
      });
    }
    // In a pulse of a sample or two the parts at its edges add to the charge but hardly to the time:
    // the mean is kept from exceeding the peak.
    const overall_mA = seconds > 0 ? x.base_mA + (charge_mAh * 3600) / seconds : peak_mA;
    const mean_mA = sign * Math.min(sign * overall_mA, sign * peak_mA);
    const found: WakeUp = {
      start_s: span.start_s,
      end_s: span.end_s,
      peak_mA,
      mean_mA,
      charge_mAh,
      charge_95_mAh: chargeInterval(doubts, charge_mAh, {
        pieces: pieces.slice(x.first, x.end),
        before: pieces[x.first - 1]!,
        covered_s: charges.covered_s(from, span.to),
        entry_mA: entry_mA - x.base_mA,
        exit_mA: exit_mA - x.base_mA,
      }),
      family: null,
      steps,
    };
    (sign > 0 ? wakeups : dips).push({
      found,
      height_mA: sign * (mean_mA - x.base_mA),
      top_mA: line.windows && extremes === trace.mean_mA ? null : sign * (peak_mA - x.base_mA),
      firstPiece: x.first,
      endPiece: x.end,
    });
  }
  return { wakeups, dips };
}
