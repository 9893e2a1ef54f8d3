// The drawing surface of this page: its font, how wide texts are in it, its colours.

import type { Surface } from './chart/data.ts';
import type { MeasureText } from './chart/text.ts';
import { canvasMeasure, FONT_FAMILY } from './measure.ts';
import { paletteOf } from './theme.ts';

let measure: MeasureText | null = null;

export function pageSurface(width: number, height: number, dark: boolean): Surface {
  measure ??= canvasMeasure();
  const text_px = width < 480 ? 11 : width < 1500 ? 12 : 14;
  return { width, height, palette: paletteOf(dark), measure, fontFamily: FONT_FAMILY, text_px };
}
