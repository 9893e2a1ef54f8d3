// The list of what happened in the page. A click brings each entry into the picture;
// an entry that stands for several has a way through them.

import { count, counted, unbroken } from '../host/say/quantities.ts';
import { timeWords } from '../host/say/times.ts';
import type { TimeWords } from '../host/say/times.ts';
import type { NightData } from './chart/data.ts';
import { html } from './dom.ts';
import { entriesOf } from './entries.ts';
import type { Entry } from './entries.ts';
import type { Looking } from './looking.ts';
import type { Store } from './store.ts';

/** More entries than this are not read; the largest are kept. */
const ENTRIES_MAX = 250;

const FOLDED_NAMES: Partial<Record<Entry['kind'], string>> = { family: 'Wake-up', dip: 'Dip', gap: 'Gap' };

// oxlint-disable-next-line max-lines-per-function -- one part of the page, built and kept up to date
export function mountEventList(place: HTMLElement, store: Store, look: Looking): void {
  let entries: Entry[] = [];
  const draw = (night: NightData | null, grown: boolean, pending: boolean) => {
    const scrolled_px = place.scrollTop;
    place.replaceChildren();
    if (night === null) return;
    const all = entriesOf(night.findings);
    entries =
      all.length <= ENTRIES_MAX
        ? all
        : [...all]
            .sort((a, b) => b.weight - a.weight)
            .slice(0, ENTRIES_MAX)
            .sort((a, b) => a.at_s - b.at_s);
    const words = timeWords(night.start_ms);
    // Where the night runs over midnight the first entry of each date carries it.
    const dates = entries.map((entry) => words.date(entry.at_s));
    const several = new Set(dates).size > 1;
    place.append(
      ...entries.map((entry, i) =>
        drawEntry(entry, words, look, several && dates[i] !== dates[i - 1] ? dates[i]! : null),
      ),
    );
    if (all.length > entries.length)
      place.append(
        html('li', { class: 'rest' }, [
          `${counted(all.length - entries.length, 'smaller entry', 'smaller entries')} not listed`,
        ]),
      );
    if (pending) place.append(html('li', { class: 'rest' }, ['Still being worked out.']));
    else if (all.length === 0) place.append(html('li', { class: 'rest' }, ['Nothing: one level all the time.']));
    // A night that has grown keeps the reader's place; another night begins at the top.
    place.scrollTop = grown ? scrolled_px : 0;
  };
  const mark = (selected: string | null, bring: boolean) => {
    entries.forEach((entry, i) => {
      const item = place.children[i];
      if (!(item instanceof HTMLElement)) return;
      const at = selected === null ? -1 : entry.ids.indexOf(selected);
      item.classList.toggle('selected', at >= 0);
      const button = item.querySelector('button.go');
      if (at >= 0) button?.setAttribute('aria-current', 'true');
      else button?.removeAttribute('aria-current');
      const where = item.querySelector('.where');
      if (where !== null)
        where.textContent =
          at >= 0 ? `${count(at + 1)} of ${count(entry.ids.length)}` : `1 to ${count(entry.ids.length)}`;
      if (at >= 0 && bring) reveal(place, item);
    });
  };
  store.listen((state, before) => {
    const redraw = state.night?.findings !== before.night?.findings;
    const grown = redraw && state.info?.name === before.info?.name;
    if (redraw) draw(state.night, grown, state.pending);
    if (redraw || state.selected !== before.selected) mark(state.selected, !grown);
  });
  place.addEventListener('click', (event) => {
    const button = event.target instanceof Element ? event.target.closest('button[data-step]') : null;
    const item = button?.closest('li');
    if (button === null || button === undefined || item === null || item === undefined) return;
    const entry = entries[[...place.children].indexOf(item)];
    if (entry === undefined) return;
    const at = store.state.selected === null ? -1 : entry.ids.indexOf(store.state.selected);
    const step = Number(button.getAttribute('data-step'));
    const next = at === -1 ? (step > 0 ? 0 : entry.ids.length - 1) : (at + step + entry.ids.length) % entry.ids.length;
    look.goTo(entry.ids[next]!);
  });
}

/** Scrolls the list alone: the page stays where the reader has it. */
function reveal(list: HTMLElement, item: HTMLElement): void {
  const [outer, inner] = [list.getBoundingClientRect(), item.getBoundingClientRect()];
  if (inner.top < outer.top) list.scrollTop -= outer.top - inner.top;
  else if (inner.bottom > outer.bottom) list.scrollTop += inner.bottom - outer.bottom;
}

function drawEntry(entry: Entry, words: TimeWords, look: Looking, date: string | null): HTMLElement {
  const text = [
    ...(date === null ? [] : [html('span', { class: 'date' }, [date])]),
    html('span', { class: 'time' }, [words.minutes(entry.at_s)]),
    html('span', { class: `sign ${entry.kind}`, 'aria-hidden': 'true' }),
    html('span', { class: 'title' }, [entry.title]),
    html('span', { class: 'more' }, [unbroken(entry.more)]),
  ];
  if (entry.ids.length === 0) return html('li', { 'data-kind': entry.kind }, [html('div', { class: 'go' }, text)]);
  const go = html('button', { type: 'button', class: 'go', click: () => look.goTo(entry.ids[0]!) }, text);
  if (!entry.fold) return html('li', { 'data-kind': entry.kind, 'data-id': entry.ids[0]! }, [go]);
  const stepper = html('div', { class: 'stepper' }, [
    html(
      'button',
      { type: 'button', 'data-step': '-1', 'aria-label': `${FOLDED_NAMES[entry.kind] ?? 'Event'} before` },
      ['‹'],
    ),
    html('span', { class: 'where' }, [`1 to ${count(entry.ids.length)}`]),
    html(
      'button',
      { type: 'button', 'data-step': '1', 'aria-label': `Next ${(FOLDED_NAMES[entry.kind] ?? 'Event').toLowerCase()}` },
      ['›'],
    ),
  ]);
  return html('li', { 'data-kind': entry.kind }, [go, stepper]);
}
