// One night's report in the format that was asked for.

import type { Overview } from '../contract/api.ts';
import type { Mark } from '../../web/chart/data.ts';
import { shape, toText } from '../../web/chart/tree.ts';
import { aloneIn, contentOf } from './content.ts';
import type { ReportSource } from './source.ts';
import { fontMeasure, fontRules } from './fonts.ts';
import { drawCompared, drawNight } from './night-picture.ts';
import { printable } from './printable.ts';
import { drawSheet, isMore, PAPERS, pictureSizes } from './sheet.ts';
import type { Paper } from './sheet.ts';

export const FORMATS = ['html', 'pdf', 'png', 'svg'] as const;
export type Format = (typeof FORMATS)[number];

/**
 * The report as the bytes of a file. The same source gives the same bytes (in one time zone).
 * @param whole the night in `BINS` equal bins, for the picture
 */
export async function makeReport(
  source: ReportSource,
  whole: Overview,
  marks: Mark[],
  format: Format,
  paper: Paper,
): Promise<Buffer> {
  const content = contentOf(source);
  const measure = fontMeasure();
  const pictured = picturedIn(source, marks);
  const night = (width: number, height: number) =>
    drawNight(pictured.night, whole, pictured.marks, width, height, measure);
  const compared = (width: number, height: number) =>
    drawCompared(source.before!, source.night, whole, width, height, measure);
  if (format === 'html') {
    const { pageAsHtml } = await import('./html.ts');
    // As large as on the sheet, so that printing it gives the same labels.
    const sizes = pictureSizes(paper, isMore(content));
    return Buffer.from(
      pageAsHtml(
        content,
        {
          night: night(sizes.night.width, sizes.night.height),
          compared: source.before === null ? null : compared(sizes.compared.width, sizes.compared.height),
        },
        paper,
      ),
    );
  }
  const sheet = drawSheet(content, paper, { night, compared: source.before === null ? null : compared }, measure);
  if (format === 'svg') {
    const withFont = shape('svg', sheet.attrs, [shape('style', {}, [fontRules(toText(sheet))]), ...sheet.children]);
    return Buffer.from(`<?xml version="1.0" encoding="UTF-8"?>\n${toText(withFont)}\n`);
  }
  if (format === 'png') return (await import('./png.ts')).sheetAsPng(sheet);
  const start = source.night.trace.start;
  return (await import('./pdf.ts')).sheetAsPdf(sheet, `nightdraw report: ${content.job}`, new Date(start ?? 0));
}

/** Work in the bay alone is no night: its picture shows what was pulled, and no wake-ups. */
function picturedIn(source: ReportSource, marks: Mark[]): { night: ReportSource['night']; marks: Mark[] } {
  const alone = aloneIn(source);
  if (alone === null) return { night: source.night, marks };
  const moves = alone.tests
    .filter((one) => one.how === 'pulled' || one.how === 'unplugged' || one.how === 'in again')
    .map((one) => ({ t_s: one.t_s, text: printable(`${one.name} ${one.how}`) }));
  return { night: { ...source.night, wakeups: [], families: [], dips: [], steps: [] }, marks: [...marks, ...moves] };
}

export { PAPERS };
export type { Paper };
