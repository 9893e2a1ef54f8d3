// Two nights on one axis: before and after a repair. They begin together, or fall
// asleep together. Dashes, not colour alone, tell which is which. Pure.

import type { Overview } from '../../host/contract/api.ts';
import { curveStep, line } from 'd3';
import { drawCurrentAxis, currentAxisWidth, drawTimeAxis, HOURS_HEIGHT, rightMargin } from './axis.ts';
import type { Surface, View } from './data.ts';
import { binWidth_s } from './data.ts';
import type { Box } from './placement.ts';
import { currentRange, currentScale, timeScale } from './scales.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

export interface Side {
  name: 'before' | 'after';
  whole: Overview;
  /** When it was asleep; null where it never was. */
  after_s: number | null;
}

/** How much later each begins on the common axis, so that both fall asleep together; nought where one never does. */
export function shifts_s(sides: [Side, Side], together: 'start' | 'asleep'): [number, number] {
  const [a, b] = sides.map((side) => side.after_s) as [number | null, number | null];
  if (together === 'start' || a === null || b === null) return [0, 0];
  const latest = Math.max(a, b);
  return [latest - a, latest - b];
}

// oxlint-disable-next-line max-lines-per-function -- one drawing, part by part
export function drawCompare(
  sides: [Side, Side],
  together: 'start' | 'asleep',
  allowance_mA: number,
  surface: Surface,
): Shape {
  const { palette } = surface;
  const shifts = shifts_s(sides, together);
  const view: View = {
    from_s: 0,
    to_s: Math.max(...sides.map(({ whole }, i) => whole.to_s + shifts[i]!)),
    scale: 'log',
    selected: null,
  };
  const left = currentAxisWidth(surface);
  const plot: Box = {
    x: left,
    y: 8,
    width: Math.max(40, surface.width - left - rightMargin(surface)),
    height: surface.height - HOURS_HEIGHT - 8,
  };
  const all = sides.flatMap(({ whole }) => whole.mean_mA.flatMap((mean) => mean ?? []));
  const range = currentRange(
    'log',
    all.reduce((a, b) => Math.min(a, b), allowance_mA),
    all.reduce((a, b) => Math.max(a, b), allowance_mA),
  );
  const x = timeScale(view.from_s, view.to_s, plot.x, plot.x + plot.width);
  const y = currentScale('log', range, plot.y + plot.height, plot.y);
  const axis = drawCurrentAxis('log', range, plot, y, surface);
  const trace = ({ name, whole }: Side, shift_s: number) => {
    const width_s = binWidth_s(whole);
    const path = line<number | null>()
      .defined((mean) => mean !== null)
      .curve(curveStep)
      .x((_, i) => x(whole.from_s + (i + 0.5) * width_s + shift_s))
      .y((mean) => y(mean!));
    return shape('path', {
      d: path(whole.mean_mA) ?? '',
      fill: 'none',
      stroke: name === 'before' ? palette.wake : palette.mean,
      'stroke-width': 1.6,
      ...(name === 'before' ? { 'stroke-dasharray': '6 3' } : {}),
      'data-part': name,
    });
  };
  return shape(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      width: surface.width,
      height: surface.height,
      viewBox: `0 0 ${surface.width} ${surface.height}`,
      'font-family': surface.fontFamily,
    },
    [
      shape('rect', { x: plot.x, y: plot.y, width: plot.width, height: plot.height, fill: palette.sheet }),
      axis.lines,
      shape('line', {
        x1: plot.x,
        x2: plot.x + plot.width,
        y1: y(allowance_mA),
        y2: y(allowance_mA),
        stroke: palette.allowance,
        'stroke-dasharray': '10 5',
        'data-part': 'allowance',
      }),
      ...sides.map((side, i) => trace(side, shifts[i]!)),
      axis.texts,
      drawTimeAxis(null, view, plot, x, surface),
    ],
  );
}
