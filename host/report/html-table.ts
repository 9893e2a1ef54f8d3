// Paragraphs and tables of the HTML page.

import { escapeText } from '../../web/chart/tree.ts';
import { unbroken } from '../say/quantities.ts';
import type { Table } from './source.ts';

/** Text of the page, its numbers on the line of their units. */
export const words = (text: string) => escapeText(unbroken(text));
export const p = (text: string) => `<p>${words(text)}</p>`;

/** @param left columns of words; figures stand at the right */
export function table({ head, rows, note }: Table, left: ReadonlySet<number>): string {
  const cell = (tag: string, text: string, c: number) =>
    `<${tag}${left.has(c) ? ' class="t"' : ''}>${words(text)}</${tag}>`;
  const heads = head
    .map((text, c) => (text === '' ? `<td></td>` : cell('th', text, c).replace('<th', '<th scope="col"')))
    .join('');
  const body = rows.map((row) => `<tr>${row.map((text, c) => cell('td', text, c)).join('')}</tr>`).join('\n');
  return `${rows.length === 0 ? '' : `<table><thead><tr>${heads}</tr></thead><tbody>\n${body}</tbody></table>`}${note === '' ? '' : p(note)}`;
}
