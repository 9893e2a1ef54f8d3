// The picture of the night: puts all parts together for one surface and one view.

import type { Overview } from '../../host/contract/api.ts';
import { currentAxisWidth, drawCurrentAxis, drawHourShade, drawTimeAxis, HOURS_HEIGHT, rightMargin } from './axis.ts';
import { drawBand } from './band.ts';
import { columnsOf } from './columns.ts';
import { coverOf } from './cover.ts';
import type { NightData, Surface, View } from './data.ts';
import { binsFor, binsWithin } from './data.ts';
import { drawRail, eventsOf, railRows, ROW_HEIGHT, spansInView } from './events.ts';
import { drawGaps } from './gaps.ts';
import { drawLabels } from './labels.ts';
import { drawMarks } from './marks.ts';
import type { Palette } from './palette.ts';
import type { Box } from './placement.ts';
import type { CurrentRange, Scale } from './scales.ts';
import { currentRange, currentScale, timeScale } from './scales.ts';
import { drawRulings, drawStaircase } from './staircase.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

export interface Picture {
  svg: Shape;
  plot: Box;
  x: Scale;
  y: Scale;
  /** How many labels are folded into the note. */
  labelsLeft: number;
}

/** More washes than this behind the picture, or wider ones in sum, say nothing. */
const WASHES_MAX = 300;
const WASHED_SHARE_MAX = 0.5;
const ROWS_MAX = 4;

// oxlint-disable-next-line max-lines-per-function -- one picture, part by part from the back to the front
export function drawPicture(data: NightData, view: View, surface: Surface): Picture {
  const { palette } = surface;
  const { findings } = data;
  const rows = railRows(findings, surface.height < 420 ? 2 : ROWS_MAX);
  const left = currentAxisWidth(surface);
  const top = rows.length * ROW_HEIGHT + 8;
  // The last hour's label is centred on the plot's edge.
  const right = rightMargin(surface);
  const plot: Box = {
    x: left,
    y: top,
    width: Math.max(40, surface.width - left - right),
    height: Math.max(40, surface.height - top - HOURS_HEIGHT),
  };
  const bottom = plot.y + plot.height;
  const bins = binsFor(data, view);
  const range = rangeOf(data, view, bins);
  const x = timeScale(view.from_s, view.to_s, plot.x, plot.x + plot.width);
  const y = currentScale(view.scale, range, bottom, plot.y);
  const washes = spansInView(findings.wakeups, view, x, 1);
  const currentAxis = drawCurrentAxis(view.scale, range, plot, y, surface);
  const ground = { bins, levels: findings.levels, view, x, y, bottom_px: bottom, top_px: plot.y };
  const columns = columnsOf(ground);
  const labels = drawLabels(data, view, plot, x, y, surface, coverOf(ground, columns));
  const clip = clipTo(plot);
  const svg = shape(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      width: surface.width,
      height: surface.height,
      viewBox: `0 0 ${surface.width} ${surface.height}`,
      'font-family': surface.fontFamily,
    },
    [
      clip.definition,
      shape('rect', {
        x: plot.x,
        y: plot.y,
        width: plot.width,
        height: plot.height,
        fill: palette.sheet,
        'data-part': 'plot',
      }),
      drawHourShade(data.start_ms, view, plot, x, surface),
      currentAxis.lines,
      drawWashes(washes, plot, palette),
      drawGaps(findings.trace.gaps, view, plot, x, surface),
      shape('g', { 'clip-path': clip.use }, [
        drawBand(columns, bottom, palette, washes),
        drawRulings(findings, plot, y, palette),
        drawStaircase(findings.levels, view, plot, x, y, palette),
        drawSelected(data, view, plot, x, surface),
      ]),
      drawMarks(data.marks, view, plot, x, palette),
      drawRail(rows, view, plot, x, surface, 0),
      currentAxis.texts,
      drawTimeAxis(data.start_ms, view, plot, x, surface),
      labels.shapes,
    ],
  );
  return { svg, plot, x, y, labelsLeft: labels.left };
}

/** On the logarithmic scale heights stay put while panning; on the linear one the part in view fills the plot. */
export function rangeOf(data: NightData, view: View, bins: Overview): CurrentRange {
  const { findings, whole } = data;
  const levels = findings.levels.map((level) => level.level_mA);
  const allowance = Number.isFinite(findings.allowance_mA) ? [findings.allowance_mA] : [];
  if (view.scale === 'log') {
    const [low, high] = extent(whole, 0, whole.mean_mA.length);
    return currentRange('log', Math.min(low, ...allowance, ...levels.slice(0, 500)), Math.max(high, ...allowance));
  }
  const [first, end] = binsWithin(bins, view.from_s, view.to_s);
  const [low, high] = extent(bins, first, end);
  return currentRange('linear', low, Math.max(high, ...allowance));
}

function extent(bins: Overview, first: number, end: number): [number, number] {
  let low = Infinity;
  let high = -Infinity;
  for (let i = first; i < end; i++) {
    const [lowest, highest] = [bins.min_mA[i] ?? null, bins.max_mA[i] ?? null];
    if (lowest !== null && lowest < low) low = lowest;
    if (highest !== null && highest > high) high = highest;
  }
  return low === Infinity ? [0, 1] : [low, high];
}

/** Leads the eye from the rail down to each wake-up. */
function drawWashes(washes: [number, number][], plot: Box, palette: Palette): Shape {
  const washed_px = washes.reduce((sum, [from, to]) => sum + to - from, 0);
  if (washes.length > WASHES_MAX || washed_px > WASHED_SHARE_MAX * plot.width) return shape('g');
  return shape(
    'g',
    {},
    washes.map(([from, to]) =>
      shape('rect', { x: from, y: plot.y, width: to - from, height: plot.height, fill: palette.wakeWash }),
    ),
  );
}

/** The event looked at, framed. */
function drawSelected(data: NightData, view: View, plot: Box, x: Scale, surface: Surface): Shape {
  const event = view.selected === null ? undefined : eventsOf(data.findings).find((e) => e.id === view.selected);
  if (event === undefined) return shape('g');
  const from = x(event.start_s);
  const width = Math.max(0, x(event.end_s) - from);
  const stroke = { stroke: surface.palette.ink, 'stroke-width': 1.2, fill: 'none', 'data-part': 'selected' };
  if (width < 2)
    return shape('line', {
      ...stroke,
      x1: from,
      x2: from,
      y1: plot.y,
      y2: plot.y + plot.height,
      'stroke-dasharray': '5 3',
    });
  return shape('rect', { ...stroke, x: from - 2, y: plot.y + 1, width: width + 4, height: plot.height - 2, rx: 2 });
}

/** The id carries the geometry, so that two pictures on one page do not cut each other. */
function clipTo(plot: Box): { definition: Shape; use: string } {
  const id = `plot-${[plot.x, plot.y, plot.width, plot.height].map(Math.round).join('-')}`;
  return {
    definition: shape('defs', {}, [
      shape('clipPath', { id }, [shape('rect', { x: plot.x, y: plot.y, width: plot.width, height: plot.height })]),
    ]),
    use: `url(#${id})`,
  };
}
