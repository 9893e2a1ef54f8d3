// The page as one drawing, from which PDF, PNG and SVG are made: blocks of wrapped text and
// tables below the picture. Where the text does not fit, it is set smaller as a whole.

import { fitText } from '../../web/chart/text.ts';
import type { MeasureText } from '../../web/chart/text.ts';
import type { Shape } from '../../web/chart/tree.ts';
import { shape } from '../../web/chart/tree.ts';
import type { Content, Table } from './content.ts';
import { FONT_FAMILY } from './fonts.ts';

/** Sizes in points. ISO 216 A4 is 210 by 297 mm, Letter 8.5 by 11 in. */
export const PAPERS = { a4: { width: 595.28, height: 841.89 }, letter: { width: 612, height: 792 } } as const;
export type Paper = keyof typeof PAPERS;

const MARGIN = 34;
const GAP = 14;
/** The picture is drawn this much larger and set smaller, so that its labels stay in proportion to the page. */
const SHRUNK = 1.4;
const SIZES_PT = [8, 7.5, 7, 6.5, 6, 5.5, 5, 4.5];
const INK = '#111111';
const SOFT = '#444444';

/** Breaks at spaces; a word wider than the line is broken within. */
export function wrap(text: string, width: number, size: number, bold: boolean, measure: MeasureText): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    let rest = word;
    const joined = line === '' ? rest : `${line} ${rest}`;
    if (measure(joined, size, bold) <= width) {
      line = joined;
      continue;
    }
    if (line !== '') lines.push(line);
    while (measure(rest, size, bold) > width && rest.length > 1) {
      const letters = [...rest];
      // Letter by letter: a measured one is remembered, a whole word of thousands is not.
      let n = 0;
      for (let used = 0; n < letters.length && (n === 0 || used + measure(letters[n]!, size, bold) <= width); n++) used += measure(letters[n]!, size, bold);
      lines.push(letters.slice(0, n).join(''));
      rest = letters.slice(n).join('');
    }
    line = rest;
  }
  return [...lines, line];
}

/** Sets text downwards within one column. */
class Column {
  readonly shapes: Shape[] = [];
  constructor(private readonly x: number, public y: number, private readonly width: number, private readonly size: number, private readonly measure: MeasureText) {}

  text(content: string, { bold = false, scale = 1, fill = INK, indent = 0, lead = '' } = {}): this {
    const size = this.size * scale;
    wrap(content, this.width - indent, size, bold, this.measure).forEach((line, i) => {
      this.y += size * 1.3;
      if (i === 0 && lead !== '') this.shapes.push(words(this.x, this.y, size, lead, true, SOFT));
      this.shapes.push(words(this.x + indent, this.y, size, line, bold, fill));
    });
    return this;
  }

  heading(content: string): this {
    this.y += this.size * 0.7;
    this.text(content, { bold: true, scale: 1.12 });
    this.y += 2.5;
    this.shapes.push(shape('line', { x1: this.x, x2: this.x + this.width, y1: this.y, y2: this.y, stroke: INK, 'stroke-width': 0.6 }));
    return this;
  }

  /** Columns as wide as their widest cell; the one named takes what is left. */
  table({ head, rows, note }: Table, wide: number, left: ReadonlySet<number>): this {
    if (rows.length > 0) {
      const pad = this.size * 0.9;
      const widths = head.map((title, c) => Math.max(...[title, ...rows.map((row) => row[c] ?? '')].map((cell) => this.measure(cell, this.size, true))) + pad);
      widths[wide] = Math.max(this.size * 6, this.width - widths.reduce((sum, width, c) => sum + (c === wide ? 0 : width), 0));
      for (const [r, row] of [head, ...rows].entries()) {
        this.y += this.size * 1.35;
        let at = this.x;
        row.forEach((cell, c) => {
          const text = fitText(cell, widths[c]! - pad / 2, this.size, r === 0, this.measure);
          const isLeft = left.has(c);
          if (text !== '') this.shapes.push(words(isLeft ? at : at + widths[c]! - pad, this.y, this.size, text, r === 0, r === 0 ? SOFT : INK, isLeft ? 'start' : 'end'));
          at += widths[c]!;
        });
      }
    }
    return note === '' ? this : this.text(note, { fill: SOFT });
  }
}

function words(x: number, y: number, size: number, text: string, bold: boolean, fill: string, anchor = 'start'): Shape {
  return shape('text', { x, y, 'font-size': size, fill, ...(bold ? { 'font-weight': 'bold' } : {}), ...(anchor === 'start' ? {} : { 'text-anchor': anchor }) }, [text]);
}

/**
 * The page, in points.
 * @param night draws the picture at the size asked for
 */
export function drawSheet(content: Content, paper: Paper, night: (width: number, height: number) => Shape, measure: MeasureText): Shape {
  const { width, height } = PAPERS[paper];
  // Its size does not hang on that of the text.
  let drawn: Shape | null = null;
  const once = (w: number, h: number) => (drawn ??= night(w, h));
  for (const size of SIZES_PT) {
    const { shapes, end } = layOut(content, width, height, size, once, measure);
    if (end > height - MARGIN + 8 && size !== SIZES_PT[SIZES_PT.length - 1]) continue;
    return shape('svg', { xmlns: 'http://www.w3.org/2000/svg', 'xmlns:xlink': 'http://www.w3.org/1999/xlink', width, height, viewBox: `0 0 ${width} ${height}`, 'font-family': FONT_FAMILY }, [
      shape('title', {}, [`nightdraw report: ${content.job}`]),
      shape('rect', { x: 0, y: 0, width, height, fill: '#ffffff' }), ...shapes,
    ]);
  }
  throw new Error('no size to set the page in');
}

function layOut(content: Content, width: number, height: number, size: number, night: (width: number, height: number) => Shape, measure: MeasureText): { shapes: Shape[]; end: number } {
  const inner = width - 2 * MARGIN;
  const logo = content.logo === null ? null : { height: 26, width: Math.min(130, 26 * content.logo.ratio) };
  const top = new Column(MARGIN, MARGIN - 8, inner - (logo === null ? 0 : logo.width + GAP), size, measure);
  top.text(content.workshop === '' ? 'Battery draw of a parked car' : content.workshop, { bold: true, scale: 1.3 })
    .text(content.job, { bold: true }).text(content.when, { fill: SOFT });
  const verdict = new Column(MARGIN, Math.max(top.y, logo === null ? 0 : MARGIN + 20) + 4, inner, size, measure)
    .text(content.verdict, { bold: true, scale: 1.7 }).text(`Next: ${content.next}`, { scale: 1.15 });
  const pictureHeight = Math.round(height * 0.3);
  const pictureY = verdict.y + 8;
  const picture = night(inner * SHRUNK, pictureHeight * SHRUNK);
  const half = (inner - GAP) / 2;
  const first = pictureY + pictureHeight;
  const bill = new Column(MARGIN, first, half, size, measure).heading('Charge bill').table(content.bill, 0, new Set([0]));
  const battery = new Column(MARGIN + half + GAP, first, half, size, measure).heading('Battery');
  content.battery.forEach((line) => battery.text(line));
  const wakeups = new Column(MARGIN, Math.max(bill.y, battery.y), inner, size, measure).heading('Wake-ups').table(content.wakeups, 6, new Set([0, 1, 6]));
  const warnings = new Column(MARGIN, wakeups.y, inner, size, measure).heading('Look out');
  if (content.warnings.length === 0) warnings.text('Nothing to warn of.');
  content.warnings.forEach((line) => warnings.text(line, { indent: 8, lead: '!' }));
  const conditions = new Column(MARGIN, warnings.y, inner, size, measure).heading('Conditions');
  content.conditions.forEach(([label, value]) => conditions.text(value, { indent: size * 8, lead: label }));
  const cautions = new Column(MARGIN, conditions.y, inner, size, measure).heading('Cautions').text(content.cautions.join(' '));
  return {
    shapes: [
      ...top.shapes,
      ...(logo === null ? [] : [shape('image', { x: width - MARGIN - logo.width, y: MARGIN - 6, width: logo.width, height: logo.height, 'xlink:href': content.logo!.href, href: content.logo!.href })]),
      ...verdict.shapes,
      shape('g', { transform: `translate(${MARGIN} ${pictureY.toFixed(2)}) scale(${(1 / SHRUNK).toFixed(4)})` }, picture.children),
      ...[bill, battery, wakeups, warnings, conditions, cautions].flatMap((column) => column.shapes),
    ],
    end: cautions.y,
  };
}
