// The staircase as it is drawn: when each level begins and ends and its mean, wake-ups and dips set
// aside, and the steps between levels. Where a wake-up comes back to a lower level, the step lies at
// its end, unless the steps inside the wake-up already account for the change.

import type { Samples } from '../../contract/capture.ts';
import type { DescribedExcursion } from '../wakeups/describe.ts';
import type { Interval, Step } from '../../contract/findings.ts';
import type { AnalysisOptions } from '../../contract/settings.ts';
import { levelInterval, stepDoubt } from '../levels/intervals.ts';
import type { Doubts } from '../levels/intervals.ts';
import { innerTicks } from '../levels/noise.ts';
import type { TickSpan } from '../levels/noise.ts';
import type { Piece } from '../levels/pieces.ts';
import { wholeOf } from '../levels/asleep.ts';
import type { HeldLevel } from '../levels/asleep.ts';
import { edgeOf, levelsOf } from '../levels/staircase.ts';
import type { Level } from '../levels/staircase.ts';
import { isExplained } from '../levels/step.ts';
import { tickAt } from '../ticks/ticks.ts';
import type { Ticks } from '../ticks/ticks.ts';
import type { Timeline } from '../ticks/timeline.ts';

/** Samples at each end of a piece that may hold part of an edge and do not count towards the mean. */
const EDGE_SAMPLES = 2;

/** Length of the parts of a level's course, s; and the fewest samples in one. */
export const PART_S = 30;
const PART_SAMPLES = 2 * EDGE_SAMPLES + 1;
/** Times nearer to the end of a part than this lie at it: sums of spacings are not exact. */
const SAME_TIME_S = 1e-6;

/** About half a minute of a level, excursions left out. */
interface SpanPart extends HeldLevel {
  /** Its first sample. */
  sample: number;
}

/** One level of the staircase. */
export interface LevelSpan {
  /** Its first sample. */
  sample: number;
  /** How the current ran in it. */
  course: SpanPart[];
  start_s: number;
  end_s: number;
  level_mA: number;
  level_95_mA: Interval;
  /** Seconds at it, wake-ups, dips and gaps left out. */
  held_s: number;
}

/** What the staircase is made from. */
export interface LevelSource {
  samples: Samples;
  line: Timeline;
  ticks: Ticks;
  pieces: Piece[];
  /** 1 for pieces in a wake-up or a dip. */
  inside: number[];
  doubts: Doubts;
}

/** Current times time, mA s, and time, s. */
interface Sum {
  area: number;
  clock: number;
}

/** The sums over all samples before i, from those of the ticks. */
function sumTo({ samples, line, ticks }: LevelSource, i: number): Sum {
  if (i >= line.samples) return { area: ticks.area_mAs[ticks.count]!, clock: ticks.clock_s[ticks.count]! };
  const k = tickAt(ticks, i);
  let area = ticks.area_mAs[k]!;
  let clock = ticks.clock_s[k]!;
  for (let n = ticks.start[k]!; n < i; n++) {
    const s = line.lasts(n);
    area += s * samples[n]!;
    clock += s;
  }
  return { area, clock };
}

/** The same over samples from..to-1. */
function sumOver(source: LevelSource, from: number, to: number): Sum {
  const a = sumTo(source, from);
  const b = sumTo(source, to);
  return { area: b.area - a.area, clock: b.clock - a.clock };
}

/** The sample after the part of a course that begins with sample `from` of a piece up to `to`. */
function partEnd(line: Timeline, from: number, to: number): number {
  const end_s = (Math.floor((line.at(from) + SAME_TIME_S) / PART_S) + 1) * PART_S - SAME_TIME_S;
  let low = Math.min(to, from + PART_SAMPLES);
  let high = to;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (line.at(middle) < end_s) low = middle + 1;
    else high = middle;
  }
  return to - low < PART_SAMPLES ? to : low;
}

/**
 * A level's pieces in parts of half a minute by the clock, excursions left out; each part counts with the mean
 * of its samples, without those at an edge of a piece.
 */
function courseOf(source: LevelSource, level: Level): SpanPart[] {
  const course: SpanPart[] = [];
  let number = -1;
  for (let j = level.first; j <= level.last; j++) {
    if (source.inside[j]) continue;
    const { from, to } = source.pieces[j]!;
    const inset = to - from > 4 * EDGE_SAMPLES ? EDGE_SAMPLES : 0;
    for (let a = from, b = 0; a < to; a = b) {
      b = partEnd(source.line, a, to);
      const whole = sumOver(source, a, b);
      const core = sumOver(source, a === from ? a + inset : a, b === to ? b - inset : b);
      if (!(core.clock > 0)) continue;
      const level_mA = core.area / core.clock;
      const last = course.at(-1);
      const now = Math.floor((source.line.at(a) + SAME_TIME_S) / PART_S);
      if (last !== undefined && now === number) {
        last.held_s += whole.clock;
        last.level_mA += ((level_mA - last.level_mA) * whole.clock) / last.held_s;
      } else course.push({ sample: a, level_mA, held_s: whole.clock });
      number = now;
    }
  }
  return course;
}

/** The ticks that a level's mean is taken over. */
function tickSpansOf({ ticks, pieces, inside }: LevelSource, level: Level): TickSpan[] {
  const own = pieces.slice(level.first, level.last + 1).filter((_, n) => !inside[level.first + n]);
  return own.map((piece) => innerTicks(ticks, piece));
}

/**
 * The levels of a night and the steps between them, in order of time. O(pieces log ticks).
 *
 * @param excursions wake-ups and dips, in any order
 */
export function levelSpans(
  source: LevelSource,
  excursions: DescribedExcursion[],
  options: AnalysisOptions,
): { levels: LevelSpan[]; steps: Step[] } {
  const { samples, line, pieces, inside } = source;
  const lasts_s = (from: number, to: number) => sumOver(source, from, to).clock;
  const found = levelsOf(pieces, 0, pieces.length, inside, {
    step_mA: options.step_mA,
    hold_s: options.hold_s,
    lasts_s,
  });
  const levels: LevelSpan[] = [];
  const steps: Step[] = [];
  found.forEach((level, n) => {
    let from = pieces[level.first]!.from;
    const before = found[n - 1];
    if (before !== undefined) {
      const between = excursions.filter((x) => x.firstPiece > before.last && x.endPiece <= level.first);
      const edge = edgeOf(pieces, samples, before, level);
      const { from_mA, to_mA } = edge;
      if (between.length === 0) {
        from = edge.sample;
        levels.at(-1)!.end_s = line.at(from);
      }
      const inner = between.flatMap((x) => x.found.steps);
      if (!isExplained(inner, to_mA - from_mA, options.step_mA)) {
        const [last, first] = [pieces[before.last]!, pieces[level.first]!];
        const doubt = stepDoubt(
          source.doubts,
          { ...edge, sample: from },
          { last, first, edge: between.length === 0 ? [last, first] : [pieces[level.first - 1]!, first] },
        );
        steps.push({ t_s: line.at(from), from_mA, to_mA, ...doubt });
      }
    }
    const course = courseOf(source, level);
    const { level_mA, held_s } = wholeOf(course) ?? { level_mA: level.start_mA, held_s: 0 };
    const end = pieces[level.last]!.to;
    const level_95_mA = levelInterval(
      level_mA,
      source.doubts.noise.ofMean(tickSpansOf(source, level)),
      source.doubts.code_mA,
    );
    levels.push({
      sample: from,
      course,
      start_s: line.at(from),
      end_s: line.at(end),
      level_mA,
      level_95_mA,
      held_s,
    });
  });
  return { levels, steps };
}
