// Marks set by hand: a pin at its instant. The text is placed with the other labels.

import type { Mark, View } from './data.ts';
import type { Palette } from './palette.ts';
import type { Box } from './placement.ts';
import type { Scale } from './scales.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

export function drawMarks(marks: Mark[], view: View, plot: Box, x: Scale, palette: Palette): Shape {
  const seen = marks.filter((mark) => mark.t_s >= view.from_s && mark.t_s <= view.to_s);
  return shape(
    'g',
    { 'data-part': 'marks' },
    seen.flatMap((mark) => {
      const at = x(mark.t_s);
      return [
        shape('line', {
          x1: at,
          x2: at,
          y1: plot.y,
          y2: plot.y + plot.height,
          stroke: palette.ink,
          'stroke-width': 1,
          'stroke-dasharray': '1 3',
        }),
        shape('circle', { cx: at, cy: plot.y + 5, r: 4, fill: palette.ink }),
      ];
    }),
  );
}
