// Text and tables set downwards within one column of the printed page.

import { fitText } from '../../web/chart/text.ts';
import type { MeasureText } from '../../web/chart/text.ts';
import type { Shape } from '../../web/chart/tree.ts';
import { shape } from '../../web/chart/tree.ts';
import { unbroken } from '../say/quantities.ts';
import type { Table } from './source.ts';

const INK = '#111111';
export const SOFT = '#444444';

/** Breaks at spaces, never between a number and its unit; a word wider than the line is broken within. */
export function wrap(text: string, width: number, size: number, bold: boolean, measure: MeasureText): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of unbroken(text).split(' ')) {
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
      for (let used = 0; n < letters.length && (n === 0 || used + measure(letters[n]!, size, bold) <= width); n++)
        used += measure(letters[n]!, size, bold);
      lines.push(letters.slice(0, n).join(''));
      rest = letters.slice(n).join('');
    }
    line = rest;
  }
  // Plain spaces in the end, so that the text can be searched for.
  return [...lines, line].map((done) => done.replaceAll('\u00a0', ' '));
}

/** Sets text downwards within one column. */
export class Column {
  readonly shapes: Shape[] = [];
  constructor(
    private readonly x: number,
    public y: number,
    private readonly width: number,
    private readonly size: number,
    private readonly measure: MeasureText,
  ) {}

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
    this.shapes.push(
      shape('line', { x1: this.x, x2: this.x + this.width, y1: this.y, y2: this.y, stroke: INK, 'stroke-width': 0.6 }),
    );
    return this;
  }

  /** Columns as wide as their widest cell; the one named takes what is left. */
  table({ head, rows, note }: Table, wide: number, left: ReadonlySet<number>): this {
    if (rows.length > 0) {
      const pad = this.size * 0.9;
      const widths = head.map(
        (title, c) =>
          Math.max(...[title, ...rows.map((row) => row[c] ?? '')].map((cell) => this.measure(cell, this.size, true))) +
          pad,
      );
      widths[wide] = Math.max(
        this.size * 6,
        this.width - widths.reduce((sum, width, c) => sum + (c === wide ? 0 : width), 0),
      );
      for (const [r, row] of [head, ...rows].entries()) {
        this.y += this.size * 1.35;
        let at = this.x;
        row.forEach((cell, c) => {
          const text = fitText(cell, widths[c]! - pad / 2, this.size, r === 0, this.measure);
          const isLeft = left.has(c);
          if (text !== '')
            this.shapes.push(
              words(
                isLeft ? at : at + widths[c]! - pad,
                this.y,
                this.size,
                text,
                r === 0,
                r === 0 ? SOFT : INK,
                isLeft ? 'start' : 'end',
              ),
            );
          at += widths[c]!;
        });
      }
    }
    return note === '' ? this : this.text(note, { fill: SOFT });
  }
}

function words(x: number, y: number, size: number, text: string, bold: boolean, fill: string, anchor = 'start'): Shape {
  return shape(
    'text',
    {
      x,
      y,
      'font-size': size,
      fill,
      ...(bold ? { 'font-weight': 'bold' } : {}),
      ...(anchor === 'start' ? {} : { 'text-anchor': anchor }),
    },
    [text],
  );
}
