// The night as a stamp, for the list of captures: its mean, nothing else.

import type { Overview } from '../../host/contract/api.ts';
import { area, curveStep } from 'd3';
import type { Surface } from './data.ts';
import { currentRange, currentScale, timeScale } from './scales.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

export function drawSmall(
  bins: Overview,
  { width, height, palette }: Pick<Surface, 'width' | 'height' | 'palette'>,
): Shape {
  const there = bins.mean_mA.flatMap((value) => value ?? []);
  const low = there.reduce((a, b) => Math.min(a, b), 0);
  const high = there.reduce((a, b) => Math.max(a, b), 1);
  const y = currentScale('log', currentRange('log', low, high), height, 1);
  const x = timeScale(0, bins.mean_mA.length, 0, width);
  const ground = area<number | null>()
    .defined((mean) => mean !== null)
    .x((_, i) => x(i + 0.5))
    .y0(height)
    .y1((mean) => y(mean!))
    .curve(curveStep);
  return shape(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      width,
      height,
      viewBox: `0 0 ${width} ${height}`,
      preserveAspectRatio: 'none',
    },
    [
      shape('rect', { x: 0, y: 0, width, height, fill: palette.paper }),
      shape('path', {
        d: ground(bins.mean_mA) ?? '',
        fill: palette.band,
        stroke: palette.mean,
        'stroke-width': 1,
        'vector-effect': 'non-scaling-stroke',
        'data-part': 'small-night',
      }),
    ],
  );
}
