// The sheet as PDF with text that can be selected and searched. The shipped fonts are
// embedded, so that Ω and µ are there on any computer.

import PDFDocument from 'pdfkit';
import toPdf from 'svg-to-pdfkit';
import type { Shape } from '../../web/chart/tree.ts';
import { toText } from '../../web/chart/tree.ts';
import { fontFilesFor } from './fonts.ts';

/** @param date stands in the file as the day it was made, so that equal nights give equal bytes */
export async function sheetAsPdf(sheet: Shape, title: string, date: Date): Promise<Buffer> {
  const { width, height } = sheet.attrs as { width: number; height: number };
  const svg = toText(await asDots(sheet));
  return new Promise((resolve, reject) => {
    const doc = new PDFDocument({
      size: [width, height],
      margin: 0,
      autoFirstPage: false,
      // None before the report's own: the writer would read one of its own, which stands nowhere.
      font: '',
      lang: 'en',
      displayTitle: true,
      info: { Title: title, Producer: 'nightdraw', Creator: 'nightdraw', CreationDate: date, ModDate: date },
    });
    const parts: Buffer[] = [];
    doc
      .on('data', (bytes) => parts.push(bytes))
      .on('end', () => resolve(Buffer.concat(parts)))
      .on('error', reject);
    // The letters alone, without kerning: as wide as they were measured, and less for the writer to read.
    const fonts = fontFilesFor(svg);
    doc.registerFont('plain', fonts.plain).registerFont('bold', fonts.bold);
    doc.addPage({ size: [width, height], margin: 0 });
    toPdf(doc, svg, 0, 0, {
      assumePt: true,
      width,
      height,
      fontCallback: (_family: string, bold: boolean) => (bold ? 'bold' : 'plain'),
    });
    doc.end();
  });
}

const SVG_HREF = 'data:image/svg+xml;base64,';

/** A drawing in the drawing (a logo as SVG) is one of dots from here on: the writer takes no other. */
async function asDots(node: Shape): Promise<Shape> {
  const children = await Promise.all(
    node.children.map(async (child) => (typeof child === 'string' ? child : asDots(child))),
  );
  const { href } = node.attrs;
  if (node.tag !== 'image' || typeof href !== 'string' || !href.startsWith(SVG_HREF)) return { ...node, children };
  const { svgAsPng } = await import('./png.ts');
  const dots = `data:image/png;base64,${svgAsPng(Buffer.from(href.slice(SVG_HREF.length), 'base64').toString('utf8'), Number(node.attrs['width'])).toString('base64')}`;
  return { ...node, attrs: { ...node.attrs, href: dots, 'xlink:href': dots }, children };
}
