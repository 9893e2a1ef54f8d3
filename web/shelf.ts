// The shelf: which night is open, and all others to choose from.

import type { CaptureSummary } from '../host/server/api.ts';
import { roughDuration, timeWords } from './chart/format.ts';
import { html } from './dom.ts';
import type { Store } from './store.ts';

const WORDS: Record<string, string> = {
  within: 'within the allowance', over: 'over the allowance', wakes: 'woken too much', awake: 'never asleep', short: 'too short to tell',
};

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
  const shelf = html('details', {}, [summary, list]);
  place.replaceChildren(shelf);
  store.listen((state, before) => {
    if (state.captures === before.captures && state.name === before.name) return;
    const others = state.captures.length - 1;
    summary.replaceChildren(
      html('span', { class: 'open' }, [state.name === null ? 'No capture open' : titleOf(state.name)]),
      html('span', { class: 'count' }, [others > 0 ? `and ${others} more` : '']),
    );
    list.replaceChildren(...state.captures.map((capture) => drawCapture(capture, state.name)));
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

function drawCapture(capture: CaptureSummary, open: string | null): HTMLElement {
  const link = html('a', { href: addressOf(capture.name), ...(capture.name === open ? { 'aria-current': 'page' } : {}) }, [
    html('span', { class: 'title' }, [titleOf(capture.name)]),
    ...(capture.state === 'ready' ? [html('span', { class: 'verdict-tag', 'data-verdict': capture.verdict.code }, [WORDS[capture.verdict.code]!])] : []),
    ...(capture.state === 'ready' && capture.job !== '' ? [html('span', { class: 'more job' }, [capture.job])] : []),
    html('span', { class: 'more' }, [moreWords(capture)]),
  ]);
  return html('li', { 'data-state': capture.state }, [link]);
}

function moreWords(capture: CaptureSummary): string {
  if (capture.state === 'waiting') return 'being read';
  if (capture.state === 'unreadable') return capture.reason;
  const start_ms = capture.start === null ? null : Date.parse(capture.start);
  const words = timeWords(start_ms);
  const when = words.date(0) === null ? [] : [`${words.date(0)}, ${words.minutes(0)}`];
  return [...when, roughDuration(capture.duration_s)].join(' · ');
}
