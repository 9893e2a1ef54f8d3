// One figure of the night: what it is, its value, and a word more.

import { html } from './dom.ts';

export function fact(label: string, value: string, more: string, drawing?: Node): HTMLElement {
  return html('div', {}, [
    html('dt', {}, [label]),
    html('dd', {}, [
      html('span', { class: 'value' }, [value]),
      ...(drawing === undefined ? [] : [drawing]),
      html('span', { class: 'more' }, [more]),
    ]),
  ]);
}
