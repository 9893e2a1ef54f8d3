// The shelf: which night is open, and all others to choose from.

import { VERDICT_TAGS, WORK_TAG } from '../host/say/verdict.ts';
import { counted, time } from '../host/say/quantities.ts';
import { timeWords } from '../host/say/times.ts';
import type { CaptureSummary, Overview } from '../host/contract/api.ts';
import { askSmall } from './ask.ts';
import { drawSmall } from './chart/small.ts';
import { html, toDom } from './dom.ts';
import { Finder } from './finder.ts';
import type { Found } from './finder.ts';
import type { Store } from './store.ts';
import { paletteOf } from './theme.ts';

/** The address of a capture within this page. */
export function addressOf(name: string): string {
  return `#${encodeURIComponent(name)}`;
}

export function nameOf(hash: string): string | null {
  try {
    return decodeURIComponent(hash.replace(/^#/, '')) || null;
  } catch {
    return null;
  }
}

export function titleOf(name: string): string {
  return name.replace(/\.(nightdraw|csv)$/i, '');
}

export function mountShelf(place: HTMLElement, store: Store): void {
  const summary = html('summary', {}, ['Captures']);
  const list = html('ul');
  const found = html('p', { class: 'search more', role: 'status', hidden: true });
  const search = html('input', {
    type: 'search',
    'aria-label': 'Search the captures',
    placeholder: 'Search name, job, date, verdict',
    input: () => finder.search(search.value),
  });
  const more = html('button', { type: 'button', hidden: true, click: () => finder.more() }, ['Show more']);
  const shelf = html('details', {}, [
    summary,
    html('div', { class: 'drawer' }, [
      html('div', { class: 'search' }, [search]),
      found,
      list,
      html('p', { class: 'search' }, [more]),
    ]),
  ]);
  const stamps = new Stamps(store);
  const show = ({ captures, found: all, searched, trouble }: Found) => {
    const shown = JSON.stringify([captures, store.state.name]);
    if (list.dataset['shown'] !== shown)
      list.replaceChildren(...captures.map((capture) => drawCapture(capture, store.state.name, stamps)));
    list.dataset['shown'] = shown;
    const isPart = all !== null && all > captures.length;
    found.hidden = !searched && !isPart && trouble === null;
    found.textContent =
      trouble ??
      (searched && captures.length === 0
        ? 'No capture has these words.'
        : `${counted(all ?? captures.length, 'capture')}${!isPart ? '' : finder.mayShowMore ? `; the newest ${captures.length} are shown` : `; the newest ${captures.length} are shown. Another word finds fewer`}`);
    more.hidden = !isPart || !finder.mayShowMore;
  };
  const finder = new Finder(() => store.state, show);
  place.replaceChildren(shelf);
  store.listen((state, before) => {
    if (state.captures === before.captures && state.name === before.name) return;
    const others = state.total - 1;
    summary.replaceChildren(
      html('span', { class: 'open' }, [state.name === null ? 'No capture open' : titleOf(state.name)]),
      html('span', { class: 'count' }, [others > 0 ? `and ${others} more` : '']),
    );
    void finder.look();
  });
  // A choice, a click elsewhere and Escape put the shelf away.
  list.addEventListener('click', (event) => {
    if (event.target instanceof Element && event.target.closest('a') !== null) shelf.open = false;
  });
  document.addEventListener('click', (event) => {
    if (event.target instanceof Node && !shelf.contains(event.target)) shelf.open = false;
  });
  shelf.addEventListener('keydown', (event) => {
    if (event.key !== 'Escape' || !shelf.open) return;
    shelf.open = false;
    summary.focus();
  });
}

function drawCapture(capture: CaptureSummary, open: string | null, stamps: Stamps): HTMLElement {
  const link = html(
    'a',
    { href: addressOf(capture.name), ...(capture.name === open ? { 'aria-current': 'page' } : {}) },
    [
      html('span', { class: 'title' }, [titleOf(capture.name)]),
      ...(capture.state === 'ready'
        ? [
            capture.work
              ? html('span', { class: 'verdict-tag' }, [WORK_TAG])
              : html('span', { class: 'verdict-tag', 'data-verdict': capture.verdict.code }, [
                  VERDICT_TAGS[capture.verdict.code],
                ]),
          ]
        : []),
      ...(capture.state === 'ready' && capture.job !== '' ? [html('span', { class: 'more job' }, [capture.job])] : []),
      html('span', { class: 'more' }, [moreWords(capture)]),
      ...(capture.state === 'ready' ? [stamps.place(capture)] : []),
    ],
  );
  return html('li', { 'data-state': capture.state }, [link]);
}

function moreWords(capture: CaptureSummary): string {
  if (capture.state === 'waiting') return 'being read';
  if (capture.state === 'unreadable') return capture.reason;
  const start_ms = capture.start === null ? null : Date.parse(capture.start);
  const words = timeWords(start_ms);
  const when = words.date(0) === null ? [] : [`${words.date(0)}, ${words.minutes(0)}`];
  return [...when, time(capture.duration_s)].join(' · ');
}

type Ready = Extract<CaptureSummary, { state: 'ready' }>;

/** Small pictures, each asked for when it first comes into sight, once per version of its file. */
class Stamps {
  private readonly known = new Map<string, Promise<Overview>>();
  private readonly waiting = new WeakMap<Element, () => void>();
  private readonly store: Store;
  private readonly sight = new IntersectionObserver((entries) => {
    for (const { isIntersecting, target } of entries) {
      if (!isIntersecting) continue;
      this.sight.unobserve(target);
      this.waiting.get(target)?.();
    }
  });

  constructor(store: Store) {
    this.store = store;
  }

  place({ name, written_ms }: Ready): HTMLElement {
    const stamp = html('span', { class: 'stamp', 'aria-hidden': 'true' });
    this.waiting.set(stamp, () => {
      const key = `${written_ms} ${name}`;
      const asked = this.known.get(key) ?? askSmall(name);
      this.known.set(key, asked);
      asked
        .then((bins) =>
          stamp.replaceChildren(
            toDom(drawSmall(bins, { width: 240, height: 28, palette: paletteOf(this.store.state.dark) })),
          ),
        )
        // Without its picture the entry still says all.
        .catch(() => this.known.delete(key));
    });
    this.sight.observe(stamp);
    return stamp;
  }
}
