// Stretches without samples: hatched, never bridged by a line.

import type { Surface, View } from './data.ts';
import { spansInView } from './events.ts';
import type { Box } from './placement.ts';
import type { Scale } from './scales.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

const STROKES_APART_PX = 7;
/** A gap is never thinner than this, however short: a gap that nobody sees is a lie. */
const LEAST_PX = 3;

/** Hatching is drawn as lines, since patterns are lost in some SVG readers. */
export function drawGaps(
  gaps: { start_s: number; end_s: number }[],
  view: View,
  plot: Box,
  x: Scale,
  surface: Surface,
): Shape {
  const { palette } = surface;
  const children = spansInView(gaps, view, x, LEAST_PX).flatMap(([from, to]) => [
    shape('rect', {
      x: from,
      y: plot.y,
      width: to - from,
      height: plot.height,
      fill: palette.sheet,
      'data-part': 'gap',
    }),
    shape('path', {
      d: hatch(from, to, plot.y, plot.y + plot.height),
      stroke: palette.gap,
      'stroke-width': 1,
      fill: 'none',
    }),
    shape('path', {
      d: `M${from.toFixed(1)} ${plot.y}V${plot.y + plot.height}M${to.toFixed(1)} ${plot.y}V${plot.y + plot.height}`,
      stroke: palette.gap,
      'stroke-width': 1,
    }),
  ]);
  return shape('g', { 'data-part': 'gaps' }, children);
}

/** Rising diagonals, cut at the edges of the rectangle. */
function hatch(left: number, right: number, top: number, bottom: number): string {
  const width = right - left;
  let d = '';
  for (let foot = top + STROKES_APART_PX; foot < bottom + width; foot += STROKES_APART_PX) {
    // The line x + y = left + foot, from its lower left to its upper right end.
    const startX = left + Math.max(0, foot - bottom);
    const endX = left + Math.min(width, foot - top);
    if (endX <= startX) continue;
    d += `M${startX.toFixed(1)} ${(left + foot - startX).toFixed(1)}L${endX.toFixed(1)} ${(left + foot - endX).toFixed(1)}`;
  }
  return d;
}
