// The night itself: the ground up to the mean, the band from the lowest to the
// highest reading, the mean line; wake-ups rise from it in their own colour.

import type { Column, Columns } from './columns.ts';
import type { Palette } from './palette.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

/** Draws the band. `wakes` are the spans in px of wake-ups, ascending. */
export function drawBand(
  { list, width_px }: Columns,
  bottom_px: number,
  palette: Palette,
  wakes: [number, number][],
): Shape {
  const parts = unbroken(list);
  const half = width_px / 2;
  const bottom = bottom_px.toFixed(1);
  const ground = parts
    .map((part) => `M${left(part, half)} ${bottom}${along(part, half, (c) => c.mean!)}V${bottom}Z`)
    .join('');
  const band = parts
    .map(
      (part) =>
        `M${left(part, half)} ${part[0]!.high.toFixed(1)}${along(part, half, (c) => c.high)}${back(part, half, (c) => Math.max(c.low, c.high + 0.5))}Z`,
    )
    .join('');
  const mean = parts
    .map((part) => `M${left(part, half)} ${part[0]!.mean!.toFixed(1)}${along(part, half, (c) => c.mean!)}`)
    .join('');
  const risen = awake(list, wakes, width_px);
  return shape('g', { 'data-part': 'band' }, [
    shape('path', { d: ground, fill: palette.ground }),
    shape('path', { d: band, fill: palette.band, 'data-part': 'min-max' }),
    shape('path', { d: mean, fill: 'none', stroke: palette.mean, 'stroke-width': 1.2, 'data-part': 'mean' }),
    ...risen.flatMap((run) => [
      shape('path', { d: enclosed(run, width_px), fill: palette.wakeFill, 'data-part': 'wake-fill' }),
      shape('path', { d: bars(run, width_px), fill: palette.wakeBand }),
      shape('path', {
        d: outlineOf(run, width_px),
        fill: 'none',
        stroke: palette.wake,
        'stroke-width': 1.4,
        'stroke-linejoin': 'round',
      }),
    ]),
  ]);
}

/** Stretches of neighbouring columns with readings. */
function unbroken(list: Column[]): Column[][] {
  const parts: Column[][] = [];
  let open: Column[] | null = null;
  for (const column of list) {
    if (column.mean === null) open = null;
    else if (open === null) parts.push((open = [column]));
    else open.push(column);
  }
  return parts;
}

const left = (part: Column[], half: number) => (part[0]!.x - half).toFixed(1);

/** Steps to the right, one for each change of height: a quiet night is a short path. */
function along(part: Column[], half: number, heightOf: (column: Column) => number): string {
  let d = '';
  let height = '';
  part.forEach((column, i) => {
    const here = heightOf(column).toFixed(1);
    if (here !== height) d += `${i === 0 ? '' : `H${(column.x - half).toFixed(1)}`}V${here}`;
    height = here;
  });
  return `${d}H${(part.at(-1)!.x + half).toFixed(1)}`;
}

/** The same to the left, from the end of the last column. */
function back(part: Column[], half: number, heightOf: (column: Column) => number): string {
  let d = '';
  let height = '';
  for (let i = part.length - 1; i >= 0; i--) {
    const here = heightOf(part[i]!).toFixed(1);
    if (here !== height) d += `${i === part.length - 1 ? '' : `H${(part[i]!.x + half).toFixed(1)}`}V${here}`;
    height = here;
  }
  return `${d}H${left(part, half)}`;
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
  return run.columns
    .map(
      (c) =>
        `M${(c.x - half).toFixed(1)} ${c.high.toFixed(1)}H${(c.x + half).toFixed(1)}V${Math.max(c.low, c.high + 0.5).toFixed(1)}H${(c.x - half).toFixed(1)}Z`,
    )
    .join('');
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
