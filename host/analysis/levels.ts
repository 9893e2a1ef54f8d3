// The drawn staircase: each level's time and mean with wake-ups and dips set aside, and
// the steps between them. A level left by a wake-up that came back lower has its step
// where the wake-up ends, unless the wake-up's own steps show the change. O(pieces).

import type { Samples } from '../capture/types.ts';
import type { Described } from './describe.ts';
import type { AnalysisOptions, Step } from './findings.ts';
import type { Piece } from './pieces.ts';
import { edgeOf, levelsOf } from './staircase.ts';
import { tickAt } from './ticks.ts';
import type { Ticks } from './ticks.ts';
import type { Timeline } from './timeline.ts';

/** A step inside a wake-up explains a change of level when it is this near to it, as a share. */
const EXPLAINS_SHARE = 0.3;

/** Samples at each end of a piece that may hold part of an edge and do not count for the mean. */
const EDGE_SAMPLES = 2;

export interface LevelSpan {
  /** First sample. */
  from: number;
  start_s: number;
  end_s: number;
  level_mA: number;
  /** Time at it, wake-ups, dips and gaps left out. */
  held_s: number;
}

/** Running time and area over samples, from the ticks' sums. */
function sumsTo(samples: Samples, line: Timeline, ticks: Ticks, i: number): { area: number; clock: number } {
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

export function levelSpans(
  samples: Samples,
  line: Timeline,
  ticks: Ticks,
  pieces: Piece[],
  inside: Uint8Array,
  wakeups: Described[],
  options: AnalysisOptions,
): { levels: LevelSpan[]; steps: Step[] } {
  const span = (from: number, to: number) => {
    const a = sumsTo(samples, line, ticks, from);
    const b = sumsTo(samples, line, ticks, to);
    return { area: b.area - a.area, clock: b.clock - a.clock };
  };
  const lasts_s = (from: number, to: number) => span(from, to).clock;
  const found = levelsOf(pieces, 0, pieces.length, inside, { step_mA: options.step_mA, hold_s: options.hold_s, lasts_s });
  const levels: LevelSpan[] = [];
  const steps: Step[] = [];
  found.forEach((level, n) => {
    let area = 0;
    let clock = 0;
    for (let j = level.first; j <= level.last; j++) {
      if (inside[j]) continue;
      const { from, to } = pieces[j]!;
      const inset = to - from > 4 * EDGE_SAMPLES ? EDGE_SAMPLES : 0;
      const whole = span(from, to);
      const core = inset === 0 ? whole : span(from + inset, to - inset);
      clock += whole.clock;
      area += core.clock > 0 ? (core.area / core.clock) * whole.clock : whole.area;
    }
    const from = pieces[level.first]!.from;
    const end = pieces[level.last]!.to;
    levels.push({
      from,
      start_s: line.at(from),
      end_s: end < line.samples ? line.at(end) : line.duration_s,
      level_mA: clock > 0 ? area / clock : level.start_mA,
      held_s: clock,
    });
    const before = found[n - 1];
    if (before === undefined) return;
    const between = wakeups.filter((w) => w.firstPiece > before.last && w.endPiece <= level.first);
    const edge = edgeOf(pieces, samples, before, level);
    if (between.length === 0) {
      levels.at(-1)!.from = edge.sample;
      levels.at(-1)!.start_s = line.at(edge.sample);
      levels.at(-2)!.end_s = Math.max(levels.at(-2)!.start_s, line.at(edge.sample));
      steps.push({ t_s: line.at(edge.sample), from_mA: edge.from_mA, to_mA: edge.to_mA });
      return;
    }
    const change = edge.to_mA - edge.from_mA;
    const explained = between.some((w) => w.found.steps.some((s) => Math.abs(s.to_mA - s.from_mA - change) <= Math.max(options.step_mA, EXPLAINS_SHARE * Math.abs(change))));
    if (!explained) steps.push({ t_s: line.at(from), from_mA: edge.from_mA, to_mA: edge.to_mA });
  });
  return { levels, steps };
}
