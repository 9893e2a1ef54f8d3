// The sheet as PNG. The renderer shows no text without the files of a font.

import { Resvg } from '@resvg/resvg-js';
import type { Shape } from '../../web/chart/tree.ts';
import { toText } from '../../web/chart/tree.ts';
import { FONTS } from './fonts.ts';

/** Dots of a PNG for each point: 200 dots per inch. */
const PNG_SCALE = 200 / 72;

export function sheetAsPng(sheet: Shape): Buffer {
  const resvg = new Resvg(toText(sheet), {
    fitTo: { mode: 'zoom', value: PNG_SCALE },
    font: { fontFiles: [FONTS.plain, FONTS.bold], loadSystemFonts: false, defaultFontFamily: 'DejaVu Sans' },
  });
  return resvg.render().asPng();
}
