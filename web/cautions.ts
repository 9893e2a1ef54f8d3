// The cautions of a page: the same sentences as in the terminal and on the report.

import { html } from './dom.ts';

export function cautionList(texts: readonly string[]): HTMLElement {
  return html(
    'ul',
    { class: 'caution', 'aria-label': 'Cautions' },
    texts.map((text) => html('li', {}, [text])),
  );
}
