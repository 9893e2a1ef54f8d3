// The drawing surface of this page: its font, how wide texts are in it, its colours.

import type { Surface } from './chart/data.ts';
import { estimateText } from './chart/text.ts';
import type { MeasureText } from './chart/text.ts';
import { paletteOf } from './theme.ts';

/** The same as in page.css. */
export const FONT_FAMILY = 'system-ui, "Segoe UI", Roboto, "Noto Sans", "Helvetica Neue", Arial, sans-serif';

function canvasMeasure(): MeasureText {
  const context = document.createElement('canvas').getContext('2d');
  if (context === null) return estimateText;
  const known = new Map<string, number>();
  return (text, size_px, bold) => {
    const key = `${bold ? 'b' : 'n'}${size_px} ${text}`;
    let width = known.get(key);
    if (width === undefined) {
      if (known.size > 5000) known.clear();
      context.font = `${bold ? 600 : 400} ${size_px}px ${FONT_FAMILY}`;
      // Hinting may round each letter of the drawn text up.
      width = context.measureText(text).width * 1.02 + 1;
      known.set(key, width);
    }
    return width;
  };
}

let measure: MeasureText | null = null;

export function pageSurface(width: number, height: number, dark: boolean): Surface {
  measure ??= canvasMeasure();
  const text_px = width < 480 ? 11 : width < 1500 ? 12 : 14;
  return { width, height, palette: paletteOf(dark), measure, fontFamily: FONT_FAMILY, text_px };
}
