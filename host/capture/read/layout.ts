// Where everything in a capture lies: its runs one after the other on the axis, the
// blocks of each stream, and which of them are the trace.

import { STREAM } from '../format/blocks.ts';
import { AS_IT_WAS, correctionOf } from './calibrated.ts';
import type { Correction } from './calibrated.ts';
import { countOf } from './stored.ts';
import type { BlockPlace, Stored } from './stored.ts';
import { AxisMap } from './timeline.ts';
import type { Run } from '../../contract/capture.ts';

/**
 * Raw conversions are the trace where they leave no more than this share, or this long, to windows; those then fill it.
 */
const LEFT_SHARE = 0.02;
const LEFT_us = 2e6;

export interface Layout {
  runs: Run[];
  axis: Map<number, AxisMap>;
  correction: Map<number, Correction>;
  /** Blocks of windows, or of imported points. */
  blocks: BlockPlace[];
  /** Where each of them begins and ends, seconds from the first sample. */
  spans: { from_s: Float64Array; to_s: Float64Array };
  raw: BlockPlace[];
  voltages: BlockPlace[];
  /** Whether raw conversions are the trace, and not the windows. */
  rawTrace: boolean;
  /** Axis time of the first sample, seconds. */
  zero_s: number;
  /** Axis time of the end of the last one, seconds. */
  end_s: number;
  samples: number;
}

/** @param original whether later calibrations are left out */
export function layoutOf(stored: Stored, original: boolean): Layout {
  const runs = stored.runs();
  const all = stored.blocks();
  const of = (stream: number) => all.filter((block) => block.stream === stream);
  const raw = of(STREAM.raw),
    voltages = of(STREAM.voltage);
  const blocks = all.filter((block) => block.stream === STREAM.windows || block.stream === STREAM.points);
  const later = original ? null : (stored.calibrations().at(-1) ?? null);
  const axis = new Map([[0, new AxisMap([], 0)]]);
  const correction = new Map([[0, AS_IT_WAS]]);
  let end_us = -Infinity;
  const placed = all.filter((block) => block.stream !== STREAM.voltage);
  const byRun = ofEachRun(placed);
  for (const run of runs) {
    const own = extentOf(byRun.get(run.id) ?? []);
    const knots = stored.knots(run.id);
    // Two boots never overlap: where the clocks' uncertainty says so, the later one waits.
    const shift_us = own === null ? 0 : Math.max(0, end_us - new AxisMap(knots, 0).at(own.first_t_us));
    const map = new AxisMap(knots, shift_us);
    axis.set(run.id, map);
    correction.set(run.id, correctionOf(run.hello, later));
    if (own !== null) end_us = map.at(own.last_t_us);
  }
  const firstRun = placed[0]?.run,
    lastRun = placed[placed.length - 1]?.run;
  const first = extentOf(byRun.get(firstRun!) ?? []),
    last = extentOf(byRun.get(lastRun!) ?? []);
  const zero_s = first === null ? 0 : axis.get(firstRun!)!.at(first.first_t_us) / 1e6;
  const placedAt = (t_us: (block: BlockPlace) => number) =>
    Float64Array.from(blocks, (block) => axis.get(block.run)!.at(t_us(block)) / 1e6 - zero_s);
  const rawTrace = raw.length > 0 && coversNearlyAll(stored.covered_us(), blocks, raw);
  return {
    runs,
    axis,
    correction,
    blocks,
    spans: { from_s: placedAt(({ first_t_us }) => first_t_us), to_s: placedAt(({ last_t_us }) => last_t_us) },
    raw,
    voltages,
    rawTrace,
    samples: countOf(rawTrace ? raw : blocks),
    zero_s,
    end_s: last === null ? 0 : axis.get(lastRun!)!.at(last.last_t_us) / 1e6,
  };
}

/** What belongs to each run, in the order it came. */
export function ofEachRun<T extends { run: number }>(all: readonly T[]): Map<number, T[]> {
  const found = new Map<number, T[]>();
  for (const one of all) {
    const own = found.get(one.run);
    if (own === undefined) found.set(one.run, [one]);
    else own.push(one);
  }
  return found;
}

function coversNearlyAll(
  covered_us: ReadonlyMap<number, number | null>,
  blocks: readonly BlockPlace[],
  raw: readonly BlockPlace[],
): boolean {
  const sumOf = (some: readonly BlockPlace[]) => some.reduce((sum, { id }) => sum + (covered_us.get(id) ?? 0), 0);
  const whole_us = sumOf(blocks),
    left_us = whole_us - sumOf(raw);
  return left_us <= Math.max(LEFT_SHARE * whole_us, Math.min(LEFT_us, whole_us / 2));
}

/**
 * First and last device time of some blocks, null where there are none: one with windows sent again lies within others.
 */
function extentOf(blocks: readonly BlockPlace[]): { first_t_us: number; last_t_us: number } | null {
  if (blocks.length === 0) return null;
  let first_t_us = Infinity,
    last_t_us = -Infinity;
  for (const block of blocks) {
    first_t_us = Math.min(first_t_us, block.first_t_us);
    last_t_us = Math.max(last_t_us, block.last_t_us);
  }
  return { first_t_us, last_t_us };
}
