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

interface Column {
  x: number;
  mean: number | null;
  low: number;
  high: number;
}

/** The bins in view as pixel columns; heights are kept within the plot. */
function columns(bins: Bins, view: View, x: Scale, y: Scale, bottom_px: number, top_px: number): Column[] {
  const width_s = binWidth_s(bins);
  const [first, end] = binsWithin(bins, view.from_s, view.to_s);
  // One more on each side, so that the lines leave the plot instead of ending short of its edge.
  const from = Math.max(0, first - 1);
  const to = Math.min(bins.mean_mA.length, end + 1);
  const height = (value: number) => Math.min(bottom_px, Math.max(top_px, y(value)));
  const list: Column[] = [];
  for (let i = from; i < to; i++) {
    const mean = bins.mean_mA[i] ?? null;
    list.push({
      x: x(bins.from_s + (i + 0.5) * width_s),
      mean: mean === null ? null : height(mean),
      low: height(bins.min_mA[i] ?? mean ?? 0),
      high: height(bins.max_mA[i] ?? mean ?? 0),
    });
  }
  return list;
}

/** Draws the band. `wakes` are the spans in px of wake-ups, ascending. */
export function drawBand(
  bins: Bins, view: View, x: Scale, y: Scale, bottom_px: number, top_px: number, palette: Palette, wakes: [number, number][],
): Shape {
  const list = columns(bins, view, x, y, bottom_px, top_px);
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
      shape('path', { d: enclosed(run, width_px), fill: palette.wakeFill }),
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
      if (run !== null) run.after = column.mean ?? run.before;
      run = null;
    } else if (run === null) {
      const before = list[i - 1]?.mean ?? column.mean!;
      run = { columns: [column], before, after: before };
      runs.push(run);
    } else run.columns.push(column);
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

/** The outline closed at the lower of the levels beside it: what it encloses is the charge of the wake-up. */
function enclosed(run: Run, width_px: number): string {
  const base = Math.max(run.before, run.after).toFixed(1);
  return `${outlineOf(run, width_px)}V${base}H${(run.columns[0]!.x - width_px / 2).toFixed(1)}Z`;
}

/** A column of the staircase weighs as much as this many of the band. */
const STAIRS_WEIGHT = 4;

/**
 * Says how much of a box lies over the band and the staircase: what label placement
 * asks. Heights of the drawing are kept per pixel column.
 */
export function coverOf(
  bins: Bins, view: View, x: Scale, y: Scale, bottom_px: number, top_px: number, levels: Findings['levels'],
): (box: { x: number; y: number; width: number; height: number }) => number {
  const left = Math.floor(x(view.from_s));
  const count = Math.max(1, Math.ceil(x(view.to_s)) - left + 1);
  const high = new Float32Array(count).fill(Infinity);
  const low = new Float32Array(count).fill(-Infinity);
  let before: Column | null = null;
  for (const column of columns(bins, view, x, y, bottom_px, top_px)) {
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
  const stairs = stairColumns(levels, view, x, y, left, count);
  return (box) => {
    let covered = 0;
    let asked = 0;
    for (let px = box.x; px <= box.x + box.width; px += 3) {
      const i = Math.min(count - 1, Math.max(0, Math.round(px - left)));
      asked++;
      if (high[i]! < box.y + box.height && low[i]! > box.y) covered++;
      if (stairs.high[i]! < box.y + box.height + 2 && stairs.low[i]! > box.y - 2) covered += STAIRS_WEIGHT;
    }
    return asked === 0 ? 0 : covered / asked;
  };
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
