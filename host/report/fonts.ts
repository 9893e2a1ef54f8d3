// The report's own font (DejaVu Sans, shipped with its package): where its files lie, and
// how wide a text is in it, so that every format breaks lines at the same places.

import { createRequire } from 'node:module';
import PDFDocument from 'pdfkit';
import type { MeasureText } from '../../web/chart/text.ts';

const require = createRequire(import.meta.url);
const fileOf = (name: string) => require.resolve(`dejavu-fonts-ttf/ttf/${name}.ttf`);

export const FONT_FAMILY = "'DejaVu Sans', Verdana, sans-serif";
export const FONTS = { plain: fileOf('DejaVuSans'), bold: fileOf('DejaVuSans-Bold') };

/** Widths are asked at this size and scaled. */
const ASKED_PT = 100;

let measure: MeasureText | null = null;

/** Measures in the report's font. Letters that it lacks count as its replacement box. */
export function fontMeasure(): MeasureText {
  return (measure ??= newMeasure());
}

function newMeasure(): MeasureText {
  const doc = new PDFDocument({ autoFirstPage: false });
  doc.registerFont('plain', FONTS.plain).registerFont('bold', FONTS.bold).fontSize(ASKED_PT);
  const known = new Map<string, number>();
  return (text, size_px, bold) => {
    const key = `${bold ? 'b' : 'n'}${text}`;
    let width = known.get(key);
    if (width === undefined) known.set(key, width = doc.font(bold ? 'bold' : 'plain').widthOfString(text));
    return (width * size_px) / ASKED_PT;
  };
}
