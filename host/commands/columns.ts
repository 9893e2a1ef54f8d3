// Text for a terminal of 80 columns: wrapped sentences and plain tables.

import { unbroken } from '../say/quantities.ts';

export const WIDTH = 80;

/** Breaks at spaces, so that no line is over the width. The first line begins with `first`, the others with `hang`. */
export function wrapped(text: string, first = '', hang = first, width = WIDTH): string {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    const lead = lines.length === 0 ? first : hang;
    if (line !== '' && line.length + 1 + word.length > width) {
      lines.push(line);
      line = hang + word;
    } else line = line === '' ? lead + word : `${line} ${word}`;
  }
  return [...lines, line].join('\n');
}

/** Sentence wrapped with its numbers whole; plain spaces in the end, so that it can be searched for. */
export function sentence(text: string, indent = '', hang = indent, width = WIDTH): string {
  return wrapped(unbroken(text), indent, hang, width).replaceAll('\u00a0', ' ');
}

/** Rows in columns; `r` aligns right. Trailing spaces are cut. */
export function table(rows: readonly (readonly string[])[], align: string, indent = '  '): string[] {
  const widths = [...align].map((_, column) => Math.max(...rows.map((row) => (row[column] ?? '').length)));
  return rows.map((row) =>
    (
      indent +
      row
        .map((cell, column) => (align[column] === 'r' ? cell.padStart(widths[column]!) : cell.padEnd(widths[column]!)))
        .join('  ')
    ).trimEnd(),
  );
}
