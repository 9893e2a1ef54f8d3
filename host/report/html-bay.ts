// The part of the HTML page that tells of the work in the bay and of the repair.

import type { Shape } from '../../web/chart/tree.ts';
import { shape, toText } from '../../web/chart/tree.ts';
import type { BayContent, Tick } from './bay-content.ts';
import type { Content } from './content.ts';
import { p, table, words } from './html-table.ts';

export function repairAsHtml(repair: NonNullable<Content['repair']>, picture: Shape): string {
  const named = shape(
    'svg',
    { ...picture.attrs, role: 'img', 'aria-label': `Before and after the repair on one axis. ${repair.legend}` },
    picture.children,
  );
  return `<div class="two"><section><h2>Before and after the repair</h2>${table(repair.table, new Set([0]))}${p(repair.legend)}</section><div>${toText(named)}</div></div>
`;
}

export function bayAsHtml({ said, parts, tests, drops, evidence }: BayContent): string {
  return `<h2>In the bay</h2>${said.map(p).join('')}${table(parts, new Set([0, 1, 3]))}
<div class="two"><section><h3>Pulled and read</h3>${table(tests, new Set([0, 1, 4]))}</section>
<section>${drops === null ? '' : `<h3>Voltages across fuses</h3>${table(drops, new Set([0, 4]))}`}</section></div>
${evidence === null ? '' : `<h3>Evidence from elsewhere</h3>${table(evidence, new Set([0, 1, 2, 3, 4, 5]))}`}
`;
}

export function closingAsHtml(closing: readonly Tick[]): string {
  if (closing.length === 0) return '';
  const items = closing
    .map(
      ({ text, ticked }) =>
        `<li><span role="img" aria-label="${ticked ? 'done' : 'to do'}">${ticked ? '☑' : '☐'}</span> ${words(text)}</li>`,
    )
    .join('\n');
  return `<h2>Before the car goes</h2><ul class="ticks">${items}</ul>
`;
}
