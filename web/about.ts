// Where the readings come from: board, firmware, scenario, or nothing known.

import { count } from '../host/say/quantities.ts';
import { html } from './dom.ts';
import type { Store } from './store.ts';

export function mountAbout(place: HTMLElement, store: Store): void {
  store.listen((state, before) => {
    const { info } = state;
    if (info === before.info) return;
    place.hidden = info === null;
    if (info === null) return;
    const facts = [
      { label: 'file', value: info.name },
      { label: 'readings', value: count(info.samples) },
      ...info.origin,
    ];
    place.replaceChildren(
      html('summary', {}, ['About this capture']),
      html(
        'dl',
        {},
        facts.flatMap(({ label, value }) => [html('dt', {}, [label]), html('dd', {}, [value])]),
      ),
    );
  });
}
