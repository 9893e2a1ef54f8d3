// Two nights on one axis, each from its first sample: before a repair and after it.
// Told apart by line and words, not by colour alone. Pure.

import { curveStep, line } from 'd3';
import { currentAxisWidth, drawCurrentAxis } from './axis.ts';
import type { Bins, Surface } from './data.ts';
import { binWidth_s } from './data.ts';
import { duration } from './format.ts';
import type { Box } from './placement.ts';
import { currentRange, currentScale, timeScale } from './scales.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

export interface PairNight {
  /** What it is called beside its line. */
  name: string;
  bins: Bins;
}

const FOOT_PX = 26;
const ROW_PX = 18;
/** Below this width the names stand in two rows. */
const NARROW_PX = 620;
const HOUR_S = 3600;

/** Whole hours, as many as have room. */
function hours(length_s: number, width_px: number): number[] {
  const all = length_s / HOUR_S;
  const step = [1, 2, 3, 6, 12, 24, 48].find((each) => (width_px * each) / Math.max(all, 1) > 60) ?? 96;
  return Array.from({ length: Math.floor(all / step) + 1 }, (_, i) => i * step * HOUR_S);
}

export function drawPair(before: PairNight, after: PairNight, surface: Surface): Shape {
  const { width, height, palette, text_px, fontFamily } = surface;
  const left = currentAxisWidth(surface);
  const narrow = width < NARROW_PX;
  const head_px = 8 + ROW_PX * (narrow ? 2 : 1);
  const plot: Box = { x: left, y: head_px, width: width - left - 10, height: height - head_px - FOOT_PX };
  const length_s = Math.max(before.bins.to_s, after.bins.to_s);
  const x = timeScale(0, length_s, plot.x, plot.x + plot.width);
  const values = [before, after].flatMap(({ bins }) => bins.mean_mA.filter((value) => value !== null));
  const range = currentRange('log', Math.min(...values), Math.max(...values));
  const y = currentScale('log', range, plot.y + plot.height, plot.y);
  const axis = drawCurrentAxis('log', range, plot, y, surface);
  const path = ({ bins }: PairNight) => line<number | null>((_, i) => x(bins.from_s + (i + 0.5) * binWidth_s(bins)), (value) => y(value ?? 0))
    .defined((value) => value !== null).curve(curveStep)(bins.mean_mA) ?? '';
  const nights = [
    { night: before, stroke: palette.wake, dash: '5 3', at: plot.x, row: 0 },
    { night: after, stroke: palette.level, dash: undefined, at: narrow ? plot.x : plot.x + plot.width / 2, row: narrow ? 1 : 0 },
  ];
  return shape('svg', { xmlns: 'http://www.w3.org/2000/svg', width, height, viewBox: `0 0 ${width} ${height}`, 'font-family': fontFamily, 'aria-hidden': 'true' }, [
    shape('rect', { x: plot.x, y: plot.y, width: plot.width, height: plot.height, fill: palette.sheet }),
    axis.lines,
    axis.texts,
    ...hours(length_s, plot.width).map((t_s) => shape('g', {}, [
      shape('line', { x1: x(t_s), x2: x(t_s), y1: plot.y + plot.height, y2: plot.y + plot.height + 5, stroke: palette.softInk }),
      shape('text', { x: x(t_s), y: height - 6, 'font-size': text_px, 'text-anchor': t_s === 0 ? 'start' : 'middle', fill: palette.softInk }, [t_s === 0 ? 'start' : duration(t_s).replace(' 00 min', '')]),
    ])),
    ...nights.flatMap(({ night, stroke, dash, at, row }) => [
      shape('path', { d: path(night), fill: 'none', stroke, 'stroke-width': 1.6, 'stroke-dasharray': dash, 'data-part': 'pair-line' }),
      shape('line', { x1: at, x2: at + 26, y1: 12 + row * ROW_PX, y2: 12 + row * ROW_PX, stroke, 'stroke-width': 2, 'stroke-dasharray': dash }),
      shape('text', { x: at + 32, y: 16 + row * ROW_PX, 'font-size': text_px, fill: palette.ink }, [night.name]),
    ]),
  ]);
}
