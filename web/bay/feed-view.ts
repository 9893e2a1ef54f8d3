// The feed tree on the bay's page: drawn anew where what is known has changed,
// opened and closed by finger or keyboard as a tree is (ARIA Authoring Practices, tree view).

import type { BayView, FeedTreeAnswer } from '../../host/contract/api.ts';
import { drawFeedTree } from '../chart/feed-tree.ts';
import { feedRows } from '../chart/feed-rows.ts';
import type { FeedRow } from '../chart/feed-rows.ts';
import { html, toDom } from '../dom.ts';
import { canvasMeasure } from '../measure.ts';

/** The narrowest drawing that can still be read. */
const WIDTH_px_MIN = 240;
/** Wider, and a row's words are far from its mark. */
const WIDTH_px_MAX = 640;

export class FeedView {
  readonly element: HTMLElement;
  private readonly place = html('div', { class: 'feed' });
  private readonly measure = canvasMeasure();
  private readonly opened = new Map<string, boolean>();
  private tree: FeedTreeAnswer | null = null;
  private view: BayView | null = null;
  private rows: FeedRow[] = [];
  private current = 'battery';
  private told = '';

  constructor() {
    this.element = html('section', { class: 'feed-part', hidden: true }, [html('h2', {}, ['Feed tree']), this.place]);
    this.place.addEventListener('click', (event) => this.press(event));
    this.place.addEventListener('keydown', (event) => this.key(event));
    new ResizeObserver(() => this.draw()).observe(this.place);
  }

  setTree(tree: FeedTreeAnswer): void {
    this.tree = tree;
    this.element.hidden = false;
    this.draw();
  }

  update(view: BayView): void {
    this.view = view;
    this.draw();
  }

  private draw(): void {
    if (this.tree === null || this.view === null) return;
    const width_px = Math.min(WIDTH_px_MAX, Math.max(WIDTH_px_MIN, Math.floor(this.place.clientWidth)));
    const { feed, named } = this.view;
    const told = JSON.stringify([width_px, feed, named.map((one) => one.amount_mA), [...this.opened], this.current]);
    if (told === this.told) return;
    this.told = told;
    this.rows = feedRows({ tree: this.tree, state: feed, named_mA: named.map((one) => one.amount_mA) }, this.opened);
    // What the keyboard was at may be folded away by now.
    if (!this.rows.some(({ key }) => key === this.current)) this.current = 'battery';
    const hadFocus = this.place.contains(document.activeElement);
    const drawn = drawFeedTree(this.rows, { width_px, measure: this.measure, current: this.current });
    this.place.replaceChildren(toDom(drawn));
    if (hadFocus) this.focusCurrent();
  }

  private focusCurrent(): void {
    this.place.querySelector<SVGElement>('[tabindex="0"]')?.focus({ preventScroll: true });
    this.place.querySelector('[tabindex="0"]')?.scrollIntoView({ block: 'nearest' });
  }

  private press({ target }: Event): void {
    const key = (target as Element).closest<SVGElement>('[data-key]')?.dataset['key'];
    const row = this.rows.find((one) => one.key === key);
    if (row === undefined) return;
    this.current = row.key;
    if (row.open !== null) this.opened.set(row.key, !row.open);
    this.draw();
  }

  private key(event: KeyboardEvent): void {
    const at = this.rows.findIndex(({ key }) => key === this.current);
    const row = this.rows[at];
    if (row === undefined || event.ctrlKey || event.altKey || event.metaKey) return;
    const to = this.stepTo(event.key, at, row);
    if (to === null) return;
    event.preventDefault();
    this.current = this.rows[to]?.key ?? row.key;
    this.draw();
    this.focusCurrent();
  }

  /** Opens or closes a row. @returns the one that the keyboard is at next; null: the key is none of the tree's */
  private stepTo(key: string, at: number, { key: name, open, parent }: FeedRow): number | null {
    switch (key) {
      case 'ArrowDown':
        return Math.min(this.rows.length - 1, at + 1);
      case 'ArrowUp':
        return Math.max(0, at - 1);
      case 'Home':
        return 0;
      case 'End':
        return this.rows.length - 1;
      case 'ArrowRight':
        if (open === false) this.opened.set(name, true);
        return open === true ? at + 1 : at;
      case 'ArrowLeft':
        if (open === true) this.opened.set(name, false);
        return open === true ? at : (parent ?? at);
      case 'Enter':
      case ' ':
        if (open !== null) this.opened.set(name, !open);
        return at;
      default:
        return null;
    }
  }
}
