// The margins: hours below with midnight and its date, current at the left. Hours
// are told by alternating shade, not by a grid.

import { axisCurrent, time } from '../../host/say/quantities.ts';
import { timeWords } from '../../host/say/times.ts';
import { clockChanges, clockTicks, midnights } from './clock.ts';
import type { Surface, View } from './data.ts';
import type { Box } from './placement.ts';
import { overlaps } from './placement.ts';
import type { CurrentRange, Scale } from './scales.ts';
import { currentTicks } from './scales.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

export const HOURS_HEIGHT = 44;
const CURRENT_APART_PX = 24;

/** Ticks as far apart as their texts need. */
function ticksOf(start_ms: number | null, view: View, plot: Box, surface: Surface) {
  const span_s = view.to_s - view.from_s;
  const sample = span_s < 600 ? '00:00:00 h' : '00:00 h';
  const apart_px = surface.measure(sample, surface.text_px, false) + (plot.width < 480 ? 8 : 22);
  return clockTicks(start_ms, view.from_s, view.to_s, (apart_px / plot.width) * span_s);
}

/** Every other stretch between two ticks is shaded, from edge to edge; midnight is a line. */
export function drawHourShade(start_ms: number | null, view: View, plot: Box, x: Scale, surface: Surface): Shape {
  const { palette } = surface;
  const ticks = ticksOf(start_ms, view, plot, surface);
  const edges = [plot.x, ...ticks.map((tick) => x(tick.t_s)), plot.x + plot.width];
  // Whether a stretch is shaded hangs on its instant, so that panning does not make shades flicker.
  const pace_s = ticks.length > 1 ? ticks[1]!.t_s - ticks[0]!.t_s : 1;
  const parity = ticks.length === 0 ? 0 : Math.round(((start_ms ?? 0) / 1000 + ticks[0]!.t_s) / pace_s) % 2;
  const shades = edges.slice(0, -1).flatMap((left, i) => {
    const width = edges[i + 1]! - left;
    return (i + parity) % 2 === 0 || width <= 0
      ? []
      : [shape('rect', { x: left, y: plot.y, width, height: plot.height, fill: palette.hour })];
  });
  const lines = midnights(start_ms, view.from_s, view.to_s).map((t_s) =>
    shape('line', {
      x1: x(t_s),
      x2: x(t_s),
      y1: plot.y,
      y2: plot.y + plot.height,
      stroke: palette.softInk,
      'stroke-width': 1,
      'data-part': 'midnight',
    }),
  );
  return shape('g', { 'data-part': 'hours' }, [...shades, ...lines]);
}

/** Times in a first row, dates (and moved clocks) in a second. */
export function drawTimeAxis(start_ms: number | null, view: View, plot: Box, x: Scale, surface: Surface): Shape {
  const { palette, measure, text_px } = surface;
  const bottom = plot.y + plot.height;
  const labels = ticksOf(start_ms, view, plot, surface).flatMap((tick) => {
    const at = x(tick.t_s);
    const half = measure(tick.label, text_px, tick.midnight) / 2;
    const mark = shape('line', {
      x1: at,
      x2: at,
      y1: bottom,
      y2: bottom + 5,
      stroke: palette.softInk,
      'stroke-width': 1,
    });
    if (at - half < 0 || at + half > surface.width) return [mark];
    return [
      mark,
      shape(
        'text',
        {
          x: at,
          y: bottom + 18,
          'font-size': text_px,
          'text-anchor': 'middle',
          fill: palette.ink,
          'data-tick': 'time',
          ...(tick.midnight ? { 'font-weight': 600 } : {}),
        },
        [tick.label],
      ),
    ];
  });
  return shape('g', { 'data-part': 'time-axis' }, [
    shape('line', {
      x1: plot.x,
      x2: plot.x + plot.width,
      y1: bottom,
      y2: bottom,
      stroke: palette.softInk,
      'stroke-width': 1,
    }),
    ...labels,
    ...secondRow(start_ms, view, plot, x, surface),
  ]);
}

function secondRow(start_ms: number | null, view: View, plot: Box, x: Scale, surface: Surface): Shape[] {
  const { palette, measure, text_px } = surface;
  const words = timeWords(start_ms);
  const y = plot.y + plot.height + 36;
  const wanted: { at: number; text: string; bold: boolean }[] = [];
  // Where the ticks themselves are days, their dates need no second telling.
  const inDays = (view.to_s - view.from_s) / Math.max(1, ticksOf(start_ms, view, plot, surface).length) > 43_200;
  for (const t_s of inDays ? [] : midnights(start_ms, view.from_s, view.to_s))
    wanted.push({ at: x(t_s), text: words.date(t_s) ?? '', bold: true });
  for (const { t_s, by_s } of clockChanges(start_ms, view.from_s, view.to_s)) {
    wanted.push({
      at: x(t_s),
      text: `clocks ${by_s > 0 ? 'forward' : 'back'} ${time(Math.abs(by_s))}`,
      bold: false,
    });
  }
  wanted.push({ at: plot.x, text: words.date(view.from_s) ?? 'time since the start', bold: false });
  const taken: Box[] = [];
  return wanted.flatMap(({ at, text, bold }) => {
    const width = measure(text, text_px, bold);
    const left = Math.min(Math.max(at - width / 2, plot.x), surface.width - width);
    const box: Box = { x: left, y, width, height: text_px };
    if (taken.some((other) => overlaps(box, other, 8))) return [];
    taken.push(box);
    return [
      shape(
        'text',
        {
          x: left,
          y,
          'font-size': text_px,
          fill: bold ? palette.ink : palette.softInk,
          'data-tick': 'date',
          ...(bold ? { 'font-weight': 600 } : {}),
        },
        [text],
      ),
    ];
  });
}

/** Width that the current axis needs at the left. */
export function currentAxisWidth(surface: Surface): number {
  return Math.ceil(surface.measure('500 mA', surface.text_px - 1, false)) + 10;
}

/** Room at the right for half of a time's text. */
export function rightMargin(surface: Surface): number {
  return Math.ceil(surface.measure('00:00', surface.text_px, true) / 2) + 1;
}

export function drawCurrentAxis(
  kind: 'log' | 'linear',
  range: CurrentRange,
  plot: Box,
  y: Scale,
  surface: Surface,
): { lines: Shape; texts: Shape } {
  const { palette } = surface;
  const size_px = surface.text_px - 1;
  const ticks = currentTicks(kind, range, y, CURRENT_APART_PX).filter((value) => y(value) >= plot.y + 4);
  const lines = ticks.map((value) => {
    const zero = value === 0 && range.low_mA < 0;
    return shape('line', {
      x1: plot.x,
      x2: plot.x + plot.width,
      y1: y(value),
      y2: y(value),
      stroke: zero ? palette.softInk : palette.hairline,
      'stroke-width': zero ? 1 : 0.7,
    });
  });
  const texts = ticks.map((value) =>
    shape(
      'text',
      {
        x: plot.x - 7,
        y: y(value) + size_px * 0.36,
        'font-size': size_px,
        'text-anchor': 'end',
        fill: palette.softInk,
        'data-tick': 'current',
      },
      [axisCurrent(value)],
    ),
  );
  return { lines: shape('g', {}, lines), texts: shape('g', { 'data-part': 'current-axis' }, texts) };
}
