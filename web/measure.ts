// How wide a text is in this page's own font.

import { estimateText } from './chart/text.ts';
import type { MeasureText } from './chart/text.ts';

/** The same as in page.css. */
export const FONT_FAMILY = 'system-ui, "Segoe UI", Roboto, "Noto Sans", "Helvetica Neue", Arial, sans-serif';

export function canvasMeasure(): MeasureText {
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
