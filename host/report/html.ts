// The report as one HTML file: real headings and tables, the picture inline, no script and
// nothing to fetch, so that it opens anywhere and prints on one page.

import type { Shape } from '../../web/chart/tree.ts';
import { shape, toText, escapeText } from '../../web/chart/tree.ts';
import type { Content } from './content.ts';
import { FONT_FAMILY, fontRules } from './fonts.ts';
import { bayAsHtml, closingAsHtml, repairAsHtml } from './html-bay.ts';
import { p, table, words } from './html-table.ts';
import { isMore } from './sheet.ts';
import type { Paper } from './sheet.ts';

const styleOf = (paper: Paper) => `
@page{size:${paper === 'a4' ? 'A4' : 'letter'};margin:11mm}
body{font:13px/1.35 ${FONT_FAMILY};color:#111;background:#fff;max-width:60rem;margin:1rem auto;padding:0 1rem;overflow-wrap:anywhere}
header{display:flex;justify-content:space-between;gap:1rem}header img{height:2.6rem;max-width:12rem}
h1{font-size:1.5em;line-height:1.25;margin:.4em 0 .2em}h2,h3{font-size:1.05em;margin:.8em 0 .2em;border-bottom:1px solid #111}
p,ul,dl{margin:.2em 0}ul{padding-left:1.2em}svg{display:block;width:100%;height:auto}
table{border-collapse:collapse;width:100%}th,td{text-align:right;padding:0 .5em 0 0;vertical-align:top}th:first-child,td:first-child,.t{text-align:left}
dl{display:grid;grid-template-columns:8em 1fr}dt{font-weight:bold}dd{margin:0}.two{display:grid;grid-template-columns:1fr 1fr;gap:1.2rem}.ticks{list-style:none;padding:0;columns:2}
@media(max-width:40rem){.two{display:block}}
@media print{body{font-size:7.6pt;line-height:1.22;margin:0;padding:0;max-width:none}.two{display:grid}svg{max-height:30vh}body.more{font-size:${paper === 'a4' ? 5.6 : 5.2}pt}.more svg{max-height:${paper === 'a4' ? 20 : 18}vh}.more .two svg{max-height:12vh}}`;

export interface HtmlPictures {
  night: Shape;
  compared: Shape | null;
}

export function pageAsHtml(content: Content, pictures: HtmlPictures, paper: Paper): string {
  const page = withoutFont(content, pictures, paper);
  return page.replace('<style>', () => `<style>\n${fontRules(page)}`);
}

function withoutFont(content: Content, { night, compared }: HtmlPictures, paper: Paper): string {
  const { logo } = content;
  const named: Shape = shape(
    'svg',
    { ...night.attrs, role: 'img', 'aria-label': `The night's current. ${content.verdict}` },
    night.children,
  );
  const warnings =
    content.warnings.length === 0
      ? p('None.')
      : `<ul>${content.warnings.map((text) => `<li>${words(text)}</li>`).join('')}</ul>`;
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; font-src data:; style-src 'unsafe-inline'">
<title>${escapeText(`nightdraw report: ${content.job}`)}</title><style>${styleOf(paper)}</style></head><body${isMore(content) ? ' class="more"' : ''}><main>
<header><div><p><strong>${escapeText(content.workshop === '' ? 'Battery draw of a parked car' : content.workshop)}</strong></p>
${p(content.job)}${p(content.when)}</div>${logo === null ? '' : `<img alt="Logo of the workshop" src="${escapeText(logo.href)}">`}</header>
<h1>${words(content.verdict)}</h1>${content.besides.map(([label, text]) => `<p><strong>${words(`${label}: ${text}`)}</strong></p>`).join('')}${p(`Next: ${content.next}`)}
${toText(named)}
${content.repair === null ? '' : repairAsHtml(content.repair, compared!)}${content.bay === null ? '' : bayAsHtml(content.bay)}
${content.night === null ? '' : nightAsHtml(content.night)}${closingAsHtml(content.closing)}<h2>Look out</h2>${warnings}
<h2>Conditions</h2><dl>${content.conditions.map(([label, value]) => `<dt>${escapeText(label)}</dt><dd>${words(value)}</dd>`).join('\n')}</dl>
<h2>Cautions</h2>${p(content.cautions.join(' '))}
</main></body></html>
`;
}

function nightAsHtml({ bill, battery, wakeups }: NonNullable<Content['night']>): string {
  return `<div class="two"><section><h2>Charge bill</h2>${table(bill, new Set([0]))}</section>
<section><h2>Battery</h2>${battery.map(p).join('')}</section></div>
<h2>Wake-ups</h2>${table(wakeups, new Set([0, 1, 6]))}
`;
}
