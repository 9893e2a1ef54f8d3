// The sheet as PNG. The renderer shows no text without the files of a font.

import { Resvg } from '@resvg/resvg-js';
import type { Shape } from '../../web/chart/tree.ts';
import { toText } from '../../web/chart/tree.ts';
import { FONTS } from './fonts.ts';

/** Dots of a PNG for each point: 200 dots per inch. */
const PNG_SCALE = 200 / 72;

/** Of a drawing within the page, which a printer shows at more. */
const LOGO_SCALE = 600 / 72;

const FONT = { fontFiles: [FONTS.plain, FONTS.bold], loadSystemFonts: false, defaultFontFamily: 'DejaVu Sans' };

export function sheetAsPng(sheet: Shape): Buffer {
  return new Resvg(toText(sheet), { fitTo: { mode: 'zoom', value: PNG_SCALE }, font: FONT }).render().asPng();
}

/** @param width_pt as wide as it stands on the page */
export function svgAsPng(svg: string, width_pt: number): Buffer {
  return new Resvg(svg, { fitTo: { mode: 'width', value: Math.ceil(width_pt * LOGO_SCALE) }, font: FONT })
    .render()
    .asPng();
}
