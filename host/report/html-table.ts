// Paragraphs and tables of the HTML page.

import { escapeText } from '../../web/chart/tree.ts';
import type { Table } from './source.ts';

export const p = (text: string) => `<p>${escapeText(text)}</p>`;

/** @param left columns of words; figures stand at the right */
export function table({ head, rows, note }: Table, left: ReadonlySet<number>): string {
  const cell = (tag: string, text: string, c: number) =>
    `<${tag}${left.has(c) ? ' class="t"' : ''}>${escapeText(text)}</${tag}>`;
  const heads = head
    .map((text, c) => (text === '' ? `<td></td>` : cell('th', text, c).replace('<th', '<th scope="col"')))
    .join('');
  const body = rows.map((row) => `<tr>${row.map((text, c) => cell('td', text, c)).join('')}</tr>`).join('\n');
  return `${rows.length === 0 ? '' : `<table><thead><tr>${heads}</tr></thead><tbody>\n${body}</tbody></table>`}${note === '' ? '' : p(note)}`;
}
