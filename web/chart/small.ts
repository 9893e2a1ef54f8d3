// A night as small as a line of text: its band from lowest to highest on the logarithmic
// scale. Pure.

import { area } from 'd3';
import type { Bins } from './data.ts';
import type { Palette } from './palette.ts';
import { currentRange, currentScale } from './scales.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

const WIDTH = 240;
const HEIGHT = 34;

export function drawSmall(bins: Bins, palette: Palette): Shape {
  const lows = bins.min_mA.filter((value) => value !== null), highs = bins.max_mA.filter((value) => value !== null);
  const range = currentRange('log', Math.min(...lows), Math.max(...highs));
  const y = currentScale('log', range, HEIGHT - 1, 1);
  const count = Math.max(1, bins.mean_mA.length);
  const path = area<number | null>().x((_, i) => (i / count) * WIDTH).y0(HEIGHT - 1).y1((value) => y(value ?? 0)).defined((value) => value !== null);
  return shape('svg', { xmlns: 'http://www.w3.org/2000/svg', class: 'small', viewBox: `0 0 ${WIDTH} ${HEIGHT}`, preserveAspectRatio: 'none', 'aria-hidden': 'true' }, [
    shape('path', { d: path(bins.max_mA) ?? '', fill: palette.wakeBand }),
    shape('path', { d: path(bins.mean_mA) ?? '', fill: palette.band }),
  ]);
}
