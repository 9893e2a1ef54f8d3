// The light tree that the chart is drawn into: plain objects that become DOM nodes
// in the page and text in Node. Nothing here knows a document.

export interface Shape {
  tag: string;
  attrs: Record<string, string | number>;
  children: (Shape | string)[];
}

/** Builds one element; attributes that are undefined are left out. */
export function shape(
  tag: string,
  attrs: Record<string, string | number | undefined> = {},
  children: (Shape | string)[] = [],
): Shape {
  const kept: Record<string, string | number> = {};
  for (const [name, value] of Object.entries(attrs)) {
    if (value !== undefined) kept[name] = typeof value === 'number' ? Math.round(value * 100) / 100 : value;
  }
  return { tag, attrs: kept, children };
}

const ESCAPES: Record<string, string> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;', "'": '&#39;' };
/** Characters that XML 1.0 cannot hold, not even escaped (section 2.2). */
const UNHOLDABLE = /[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]/g;

export function escapeText(text: string): string {
  return text.replace(UNHOLDABLE, '\ufffd').replace(/[&<>"']/g, (c) => ESCAPES[c]!);
}

/** The tree as SVG (XML) text. */
export function toText(node: Shape | string): string {
  if (typeof node === 'string') return escapeText(node);
  const attrs = Object.entries(node.attrs)
    .map(([name, value]) => ` ${name}="${escapeText(String(value))}"`)
    .join('');
  if (node.children.length === 0) return `<${node.tag}${attrs}/>`;
  return `<${node.tag}${attrs}>${node.children.map(toText).join('')}</${node.tag}>`;
}

/** All text below a node, as a reader sees it. */
export function textOf(node: Shape | string): string {
  return typeof node === 'string' ? node : node.children.map(textOf).join('');
}
