// One figure of one car from night to night: small, to stand beside others of its kind.

import { line, scaleLinear, scaleTime } from 'd3';
import type { Surface } from './data.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

export interface TrendPoint {
  at_ms: number;
  /** Null where that night has none. */
  value: number | null;
  /** The most that is accepted that night; null where nothing is. */
  limit: number | null;
}

const INSET_PX = 5;

/** Time to the right, from zero upwards; points joined in the order of the nights, the limit dashed. */
export function drawTrend(
  points: readonly TrendPoint[],
  { width, height, palette }: Pick<Surface, 'width' | 'height' | 'palette'>,
): Shape {
  const inOrder = [...points].sort((a, b) => a.at_ms - b.at_ms);
  const most = inOrder.reduce((top, { value, limit }) => Math.max(top, value ?? 0, limit ?? 0), 1e-6);
  const least = inOrder.reduce((low, { value }) => Math.min(low, value ?? 0), 0);
  const times = inOrder.map(({ at_ms }) => at_ms);
  const x = scaleTime([times[0] ?? 0, times.at(-1) ?? 1], [INSET_PX, width - INSET_PX]);
  const y = scaleLinear([least, most], [height - INSET_PX, INSET_PX]);
  const path = (value: (point: TrendPoint) => number | null) =>
    line<TrendPoint>()
      .defined((point) => value(point) !== null)
      .x((point) => x(point.at_ms))
      .y((point) => y(value(point)!))(inOrder) ?? '';
  const there = inOrder.filter((point): point is TrendPoint & { value: number } => point.value !== null);
  const steady = { fill: 'none', 'vector-effect': 'non-scaling-stroke' };
  return shape('svg', { xmlns: 'http://www.w3.org/2000/svg', width, height, viewBox: `0 0 ${width} ${height}` }, [
    shape('line', { x1: 0, x2: width, y1: y(0), y2: y(0), stroke: palette.hairline }),
    ...(inOrder.some(({ limit }) => limit !== null)
      ? [
          shape('path', {
            ...steady,
            d: path(({ limit }) => limit),
            stroke: palette.allowance,
            'stroke-dasharray': '4 3',
            'data-part': 'limit',
          }),
        ]
      : []),
    shape('path', {
      ...steady,
      d: path(({ value }) => value),
      stroke: palette.mean,
      'stroke-width': 1.5,
      'data-part': 'trend',
    }),
    ...there.map(({ at_ms, value, limit }) =>
      shape('circle', {
        cx: x(at_ms),
        cy: y(value),
        r: 3,
        fill: limit !== null && value > limit ? palette.wake : palette.level,
        'data-part': limit !== null && value > limit ? 'night-over' : 'night',
      }),
    ),
  ]);
}
