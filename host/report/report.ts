// One night's report in the format that was asked for.

import type { Bins, Mark } from '../../web/chart/data.ts';
import { shape, toText } from '../../web/chart/tree.ts';
import { contentOf } from './content.ts';
import type { ReportSource } from './content.ts';
import { fontMeasure, fontRules } from './fonts.ts';
import { drawNight } from './night-picture.ts';
import { drawSheet, PAPERS } from './sheet.ts';
import type { Paper } from './sheet.ts';

export const FORMATS = ['html', 'pdf', 'png', 'svg'] as const;
export type Format = (typeof FORMATS)[number];

/** Size of the picture in the HTML page, in px. */
const HTML_PICTURE = { width: 900, height: 380 };

/**
 * The report as the bytes of a file. The same source gives the same bytes (in one time zone).
 * @param whole the night in `BINS` equal bins, for the picture
 */
export async function makeReport(source: ReportSource, whole: Bins, marks: Mark[], format: Format, paper: Paper): Promise<Buffer> {
  const content = contentOf(source);
  const measure = fontMeasure();
  const night = (width: number, height: number) => drawNight(source.night, whole, marks, width, height, measure);
  if (format === 'html') {
    const { pageAsHtml } = await import('./html.ts');
    return Buffer.from(pageAsHtml(content, night(HTML_PICTURE.width, HTML_PICTURE.height), paper));
  }
  const sheet = drawSheet(content, paper, night, measure);
  if (format === 'svg') {
    const withFont = shape('svg', sheet.attrs, [shape('style', {}, [fontRules(toText(sheet))]), ...sheet.children]);
    return Buffer.from(`<?xml version="1.0" encoding="UTF-8"?>\n${toText(withFont)}\n`);
  }
  if (format === 'png') return (await import('./png.ts')).sheetAsPng(sheet);
  const start = source.night.trace.start;
  return (await import('./pdf.ts')).sheetAsPdf(sheet, `nightdraw report: ${content.job}`, new Date(start ?? 0));
}

export { PAPERS };
export type { Paper };
