// What came of the work in the bay that the open capture keeps, below the verdict: the parts
// named, each with what it draws and whether that is proven, and what to do now.

import { current, unbroken } from '../host/say/quantities.ts';
import type { WorkInBay } from '../host/contract/api.ts';
import { html } from './dom.ts';
import type { Store } from './store.ts';

export function mountBay(place: HTMLElement, store: Store): void {
  store.listen((state, before) => {
    if (state.info === before.info) return;
    const bay = state.info?.bay ?? null;
    place.hidden = bay === null;
    place.replaceChildren(...(bay === null ? [] : parts(bay)));
  });
}

function parts({ alone, sentence, next, sum, parts: named }: WorkInBay): HTMLElement[] {
  return [
    html('h2', { id: 'bay-title' }, ['In the bay']),
    // Where nothing but the work was recorded, the page begins with that sentence.
    ...(alone ? [] : [html('p', {}, [unbroken(sentence)])]),
    ...(named.length === 0
      ? []
      : [
          html(
            'ul',
            { class: 'bay-parts' },
            named.map(({ code, name, way, amount_mA, doubt_mA }) =>
              html('li', {}, [
                html('p', {}, [
                  html('strong', {}, [name]),
                  ` ${current(amount_mA)}${doubt_mA === null ? '' : ` ± ${doubt_mA.toFixed(0)}`}, ${code}`,
                ]),
                ...(way === '' ? [] : [html('p', { class: 'more' }, [`fed by way of ${way}`])]),
              ]),
            ),
          ),
        ]),
    ...(sum === null ? [] : [html('p', {}, [unbroken(sum)])]),
    html('p', { class: 'next' }, [html('strong', {}, ['Next: ']), unbroken(next)]),
  ];
}
