// From plain trees to nodes of the page. Text is always set as text, so nothing
// that a file says can become markup.

import type { Shape } from './chart/tree.ts';

const SVG = 'http://www.w3.org/2000/svg';

export function toDom(node: Shape | string): Node {
  if (typeof node === 'string') return document.createTextNode(node);
  const element = document.createElementNS(SVG, node.tag);
  for (const [name, value] of Object.entries(node.attrs)) {
    if (name !== 'xmlns') element.setAttribute(name, String(value));
  }
  element.append(...node.children.map(toDom));
  return element;
}

type Attributes = Record<string, string | boolean | ((event: Event) => void)>;

/** An HTML element; functions become listeners, `true` an attribute without value, `false` none. */
export function html<T extends keyof HTMLElementTagNameMap>(
  tag: T,
  attributes: Attributes = {},
  children: (Node | string)[] = [],
): HTMLElementTagNameMap[T] {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === 'function') element.addEventListener(name, value);
    else if (value === true) element.setAttribute(name, '');
    else if (value !== false) element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
}

/** The element of `index.html` with this id. */
export function byId(id: string): HTMLElement {
  const element = document.getElementById(id);
  if (element === null) throw new Error(`the page has no element '${id}'`);
  return element;
}
