// The report as one HTML file: real headings and tables, the picture inline, no script and
// nothing to fetch, so that it opens anywhere and prints on one page.

import type { Shape } from '../../web/chart/tree.ts';
import { shape, toText, escapeText } from '../../web/chart/tree.ts';
import type { Content, Table } from './content.ts';
import { FONT_FAMILY, fontRules } from './fonts.ts';
import type { Paper } from './sheet.ts';

const styleOf = (paper: Paper) => `
@page{size:${paper === 'a4' ? 'A4' : 'letter'};margin:11mm}
body{font:13px/1.35 ${FONT_FAMILY};color:#111;background:#fff;max-width:60rem;margin:1rem auto;padding:0 1rem;overflow-wrap:anywhere}
header{display:flex;justify-content:space-between;gap:1rem}header img{height:2.6rem;max-width:12rem}
h1{font-size:1.5em;line-height:1.25;margin:.4em 0 .2em}h2{font-size:1.05em;margin:.8em 0 .2em;border-bottom:1px solid #111}
p,ul,dl{margin:.2em 0}ul{padding-left:1.2em}svg{display:block;width:100%;height:auto}
table{border-collapse:collapse;width:100%}th,td{text-align:right;padding:0 .5em 0 0;vertical-align:top}th:first-child,td:first-child,.t{text-align:left}
dl{display:grid;grid-template-columns:8em 1fr}dt{font-weight:bold}dd{margin:0}.two{display:grid;grid-template-columns:1fr 1fr;gap:1.2rem}
@media(max-width:40rem){.two{display:block}}
@media print{body{font-size:7.6pt;line-height:1.22;margin:0;padding:0;max-width:none}.two{display:grid}svg{max-height:30vh}}`;

const p = (text: string) => `<p>${escapeText(text)}</p>`;

/** @param left columns of words; figures stand at the right */
function table({ head, rows, note }: Table, left: ReadonlySet<number>): string {
  const cell = (tag: string, text: string, c: number) => `<${tag}${left.has(c) ? ' class="t"' : ''}>${escapeText(text)}</${tag}>`;
  const heads = head.map((text, c) => (text === '' ? `<td></td>` : cell('th', text, c).replace('<th', '<th scope="col"'))).join('');
  const body = rows.map((row) => `<tr>${row.map((text, c) => cell('td', text, c)).join('')}</tr>`).join('\n');
  return `${rows.length === 0 ? '' : `<table><thead><tr>${heads}</tr></thead><tbody>\n${body}</tbody></table>`}${note === '' ? '' : p(note)}`;
}

export function pageAsHtml(content: Content, picture: Shape, paper: Paper): string {
  const page = withoutFont(content, picture, paper);
  return page.replace('<style>', () => `<style>\n${fontRules(page)}`);
}

function withoutFont(content: Content, picture: Shape, paper: Paper): string {
  const { logo } = content;
  const named: Shape = shape('svg', { ...picture.attrs, role: 'img', 'aria-label': `The night's current. ${content.verdict}` }, picture.children);
  const warnings = content.warnings.length === 0 ? p('Nothing to warn of.') : `<ul>${content.warnings.map((text) => `<li>${escapeText(text)}</li>`).join('')}</ul>`;
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; font-src data:; style-src 'unsafe-inline'">
<title>${escapeText(`nightdraw report: ${content.job}`)}</title><style>${styleOf(paper)}</style></head><body><main>
<header><div><p><strong>${escapeText(content.workshop === '' ? 'Battery draw of a parked car' : content.workshop)}</strong></p>
${p(content.job)}${p(content.when)}</div>${logo === null ? '' : `<img alt="Logo of the workshop" src="${escapeText(logo.href)}">`}</header>
<h1>${escapeText(content.verdict)}</h1>${p(`Next: ${content.next}`)}
${toText(named)}
<div class="two"><section><h2>Charge bill</h2>${table(content.bill, new Set([0]))}</section>
<section><h2>Battery</h2>${content.battery.map(p).join('')}</section></div>
<h2>Wake-ups</h2>${table(content.wakeups, new Set([0, 1, 6]))}
<h2>Look out</h2>${warnings}
<h2>Conditions</h2><dl>${content.conditions.map(([label, value]) => `<dt>${escapeText(label)}</dt><dd>${escapeText(value)}</dd>`).join('\n')}</dl>
<h2>Cautions</h2>${p(content.cautions.join(' '))}
</main></body></html>
`;
}
