// The night itself: the ground up to the mean, the band from the lowest to the
// highest reading, the mean line; wake-ups rise from it in their own colour.

import { area, curveStep, line } from 'd3';
import type { Findings } from '../../host/analysis/findings.ts';
import type { Bins, View } from './data.ts';
import { binWidth_s, binsWithin } from './data.ts';
import type { Palette } from './palette.ts';
import type { Scale } from './scales.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

/** What is drawn, and the scales and heights to draw it within. */
export interface Ground {
  bins: Bins;
  levels: Findings['levels'];
  view: View;
  x: Scale;
  y: Scale;
  bottom_px: number;
  top_px: number;
}

interface Column {
  x: number;
  mean: number | null;
  low: number;
  high: number;
  /** The height of the level that was held here; null where none was. */
  level: number | null;
}

/** The bins in view as pixel columns; heights are kept within the plot. */
function columns({ bins, levels, view, x, y, bottom_px, top_px }: Ground): Column[] {
  const width_s = binWidth_s(bins);
  const [first, end] = binsWithin(bins, view.from_s, view.to_s);
  // One more on each side, so that the lines leave the plot instead of ending short of its edge.
  const from = Math.max(0, first - 1);
  const to = Math.min(bins.mean_mA.length, end + 1);
  const height = (value: number) => Math.min(bottom_px, Math.max(top_px, y(value)));
  const list: Column[] = [];
  let l = 0;
  for (let i = from; i < to; i++) {
    const mean = bins.mean_mA[i] ?? null;
    const middle_s = bins.from_s + (i + 0.5) * width_s;
    while (l < levels.length && levels[l]!.end_s <= middle_s) l++;
    const level = l < levels.length && levels[l]!.start_s <= middle_s ? levels[l]!.level_mA : null;
    list.push({
      x: x(middle_s),
      mean: mean === null ? null : height(mean),
      low: height(bins.min_mA[i] ?? mean ?? 0),
      high: height(bins.max_mA[i] ?? mean ?? 0),
      level: level === null ? null : height(level),
    });
  }
  return list;
}

/** Draws the band. `wakes` are the spans in px of wake-ups, ascending. */
export function drawBand(under: Ground, palette: Palette, wakes: [number, number][]): Shape {
  const { bins, view, x, bottom_px } = under;
  const list = columns(under);
  const there = (c: Column) => c.mean !== null;
  const ground = area<Column>().defined(there).x((c) => c.x).y0(bottom_px).y1((c) => c.mean!).curve(curveStep);
  const band = area<Column>().defined(there).x((c) => c.x).y0((c) => Math.max(c.low, c.high + 0.5)).y1((c) => c.high).curve(curveStep);
  const mean = line<Column>().defined(there).x((c) => c.x).y((c) => c.mean!).curve(curveStep);
  const width_px = (binWidth_s(bins) * (x(view.to_s) - x(view.from_s))) / (view.to_s - view.from_s);
  const risen = awake(list, wakes, width_px);
  return shape('g', { 'data-part': 'band' }, [
    shape('path', { d: ground(list) ?? '', fill: palette.ground }),
    shape('path', { d: band(list) ?? '', fill: palette.band, 'data-part': 'min-max' }),
    shape('path', { d: mean(list) ?? '', fill: 'none', stroke: palette.mean, 'stroke-width': 1.2, 'data-part': 'mean' }),
    ...risen.flatMap((run) => [
      shape('path', { d: enclosed(run, width_px), fill: palette.wakeFill, 'data-part': 'wake-fill' }),
      shape('path', { d: bars(run, width_px), fill: palette.wakeBand }),
      shape('path', { d: outlineOf(run, width_px), fill: 'none', stroke: palette.wake, 'stroke-width': 1.4, 'stroke-linejoin': 'round' }),
    ]),
  ]);
}

/** Neighbouring columns that a wake-up touches, and the heights of the mean on both sides. */
interface Run {
  columns: Column[];
  before: number;
  after: number;
}

function awake(list: Column[], wakes: [number, number][], width_px: number): Run[] {
  const runs: Run[] = [];
  let w = 0;
  let run: Run | null = null;
  // One column more on each side: a bin that a rise or fall lies in belongs to the wake-up.
  const reach_px = width_px * 1.5;
  list.forEach((column, i) => {
    while (w < wakes.length && wakes[w]![1] < column.x - reach_px) w++;
    const touched = column.mean !== null && w < wakes.length && wakes[w]![0] <= column.x + reach_px;
    if (!touched) {
      if (run !== null) run.after = column.mean ?? run.after;
      run = null;
    } else if (run === null) {
      run = { columns: [column], before: list[i - 1]?.mean ?? column.mean!, after: column.mean! };
      runs.push(run);
    } else {
      run.columns.push(column);
      // Where the picture, or what is known, ends within a wake-up, its line ends where it is.
      run.after = column.mean!;
    }
  });
  return runs;
}

/** The mean over a run with both its flanks. */
function outlineOf(run: Run, width_px: number): string {
  const at = (px: number) => px.toFixed(1);
  let d = `M${at(run.columns[0]!.x - width_px / 2)} ${at(run.before)}`;
  for (const column of run.columns) d += `V${at(column.mean!)}H${at(column.x + width_px / 2)}`;
  return `${d}V${at(run.after)}`;
}

/** From lowest to highest, each column at its full width: a peak of one reading is seen as well. */
function bars(run: Run, width_px: number): string {
  const half = Math.max(width_px, 1) / 2;
  return run.columns.map((c) =>
    `M${(c.x - half).toFixed(1)} ${c.high.toFixed(1)}H${(c.x + half).toFixed(1)}V${Math.max(c.low, c.high + 0.5).toFixed(1)}H${(c.x - half).toFixed(1)}Z`).join('');
}

/**
 * The outline closed at the level under each column: what it encloses is what the
 * wake-ups there drew. Many in one column, at whatever level, never borrow the
 * height of a level elsewhere.
 */
function enclosed(run: Run, width_px: number): string {
  const half = width_px / 2;
  const at = (px: number) => px.toFixed(1);
  let d = `M${at(run.columns[0]!.x - half)} ${at(run.columns[0]!.mean!)}`;
  for (const column of run.columns) d += `V${at(column.mean!)}H${at(column.x + half)}`;
  for (const column of [...run.columns].reverse()) {
    // Never above the mean: a column in which the level fell has nothing to enclose.
    const base = Math.max(column.level ?? Math.max(run.before, run.after), column.mean!);
    d += `V${at(base)}H${at(column.x - half)}`;
  }
  return `${d}Z`;
}

/** A column of the staircase weighs as much as this many of the band. */
const STAIRS_WEIGHT = 4;
/** A box is asked for at every third column. */
const STRIDE_PX = 3;

/**
 * Says how much of a box lies over the band and the staircase: what label placement
 * asks. Heights of the drawing are kept per pixel column.
 */
export function coverOf(under: Ground): (box: { x: number; y: number; width: number; height: number }) => number {
  const { levels, view, x, y } = under;
  const left = Math.floor(x(view.from_s));
  const count = Math.max(1, Math.ceil(x(view.to_s)) - left + 1);
  const high = new Float32Array(count).fill(Infinity);
  const low = new Float32Array(count).fill(-Infinity);
  let before: Column | null = null;
  for (const column of columns(under)) {
    if (column.mean === null) {
      before = null;
      continue;
    }
    // Between two columns the drawing is as tall as both together.
    const from = Math.max(0, Math.floor((before?.x ?? column.x) - left));
    const to = Math.min(count - 1, Math.ceil(column.x - left));
    for (let i = from; i <= to; i++) {
      high[i] = Math.min(high[i]!, column.high, before?.high ?? Infinity);
      low[i] = Math.max(low[i]!, column.low, before?.low ?? -Infinity);
    }
    before = column;
  }
  const [highest, lowest] = [widened(high, Math.min), widened(low, Math.max)];
  const stairs = stairColumns(levels, view, x, y, left, count);
  return (box) => {
    let covered = 0;
    let asked = 0;
    for (let px = box.x; px <= box.x + box.width; px += STRIDE_PX) {
      const i = Math.min(count - 1, Math.max(0, Math.round(px - left)));
      asked++;
      if (highest[i]! < box.y + box.height && lowest[i]! > box.y) covered++;
      if (stairs.high[i]! < box.y + box.height + 2 && stairs.low[i]! > box.y - 2) covered += STAIRS_WEIGHT;
    }
    return asked === 0 ? 0 : covered / asked;
  };
}

/** Each column with its neighbours, so that no flank, one pixel thin, slips between two strides. */
function widened(heights: Float32Array, pick: (...values: number[]) => number): Float32Array {
  return heights.map((own, i) => pick(heights[i - 1] ?? own, own, heights[i + 1] ?? own));
}

/** Heights of the staircase per pixel column; a riser spans its own column. */
function stairColumns(levels: Findings['levels'], view: View, x: Scale, y: Scale, left: number, count: number): { high: Float32Array; low: Float32Array } {
  const high = new Float32Array(count).fill(Infinity);
  const low = new Float32Array(count).fill(-Infinity);
  let last_px: number | null = null;
  for (const level of levels) {
    if (level.end_s < view.from_s || level.start_s > view.to_s) continue;
    const at = y(level.level_mA);
    const from = Math.min(count - 1, Math.max(0, Math.floor(x(level.start_s) - left)));
    const end = Math.min(count, Math.max(from + 1, Math.ceil(x(level.end_s) - left)));
    for (let i = from; i < end; i++) {
      const riser: number = i < from + 3 ? (last_px ?? at) : at;
      high[i] = Math.min(high[i]!, at, riser);
      low[i] = Math.max(low[i]!, at, riser);
    }
    last_px = at;
  }
  return { high, low };
}
