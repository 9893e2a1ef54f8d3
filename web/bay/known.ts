// What is known so far: parts named, where the rest may be, what is out, what happened,
// and the closing list.

import { current } from '../../host/say/quantities.ts';
import type { BayAction, BayView } from '../../host/contract/api.ts';
import { html } from '../dom.ts';
import { elapsedWords } from '../live/words.ts';
import { percent } from './words.ts';

/** So many entries stand open; earlier ones are a press away. */
const NEWEST = 3;

/** Below this nothing is likelier than much else. */
const TOLD_SHARE = 0.05;

export class KnownView {
  readonly element = html('div', { class: 'known' });
  private told = '';

  constructor(private readonly send: (action: BayAction) => Promise<unknown>) {}

  update(view: BayView): void {
    const { named, sought, others, said, closing, stage, finished, headline } = view;
    const told = JSON.stringify([named, sought, others, said, closing, stage, finished, headline]);
    if (told === this.told) return;
    this.told = told;
    const focused = document.activeElement?.id;
    this.element.replaceChildren(
      ...[
        finished !== null && finished !== headline ? html('p', { class: 'finished' }, [finished]) : null,
        stage === 'closing' || stage === 'done' ? this.closing(view) : null,
        named.length === 0
          ? null
          : html('section', {}, [
              html('h2', {}, ['Named']),
              html(
                'ul',
                { class: 'named' },
                named.map(({ name, way, amount_mA, sigma_mA }) =>
                  html('li', {}, [
                    html('strong', {}, [name]),
                    ` ${current(amount_mA)}`,
                    html('span', { class: 'more' }, [`± ${(1.96 * sigma_mA).toFixed(0)} mA (95 %); ${way}`]),
                  ]),
                ),
              ),
            ]),
        stage !== 'pulling' || !sought.some(({ places }) => (places[0]?.share ?? 0) > TOLD_SHARE)
          ? null
          : html('section', {}, [html('h2', {}, ['Where it may be']), ...sought.map(placesOf)]),
        stage !== 'pulling' || others.length === 0
          ? null
          : html('section', {}, [
              html('h2', {}, ['Else, in this order']),
              html(
                'ol',
                { class: 'others' },
                others.map(({ kind, name }) => html('li', {}, [`${MOVE[kind] ?? kind} ${name}`])),
              ),
            ]),
        said.length === 0 ? null : this.happened(said),
      ].filter((one) => one !== null),
    );
    if (focused !== undefined && focused !== '') document.getElementById(focused)?.focus();
  }

  private happened(said: BayView['said']): HTMLElement {
    const list = (entries: BayView['said']) =>
      html(
        'ol',
        { class: 'log' },
        [...entries]
          .reverse()
          .map(({ t_s, text }) =>
            html('li', {}, [html('span', { class: 'when' }, [elapsedWords(t_s)]), html('span', {}, [text])]),
          ),
      );
    const earlier = said.slice(0, -NEWEST);
    const open = this.element.querySelector<HTMLDetailsElement>('details.earlier')?.open ?? false;
    return html('section', {}, [
      html('h2', {}, ['What happened, newest first']),
      list(said.slice(-NEWEST)),
      ...(earlier.length === 0
        ? []
        : [html('details', { class: 'earlier', open }, [html('summary', {}, ['Earlier']), list(earlier)])]),
    ]);
  }

  private closing({ closing }: BayView): HTMLElement {
    return html('section', {}, [
      html('h2', {}, ['Before the car leaves']),
      html(
        'ul',
        { class: 'closing' },
        closing.map(({ id, text, ticked }) => {
          const box = html('input', {
            type: 'checkbox',
            id: `closing-${id}`,
            checked: ticked,
            change: () => {
              // What stands there is what the capture holds; the tick comes back with it.
              const wanted = box.checked;
              box.checked = ticked;
              void this.send({ do: 'tick', id, ticked: wanted });
            },
          });
          return html('li', {}, [box, html('label', { for: `closing-${id}` }, [text])]);
        }),
      ),
    ]);
  }
}

const MOVE: Record<string, string> = {
  drop: 'read the voltage across',
  pull: 'pull',
  unplug: 'unplug',
  refit: 'put back',
};

function placesOf({ amount_mA, places }: BayView['sought'][number]): HTMLElement {
  return html('table', { class: 'places' }, [
    html('caption', {}, [`${current(amount_mA)}, most likely at`]),
    html(
      'tbody',
      {},
      places.map(({ name, share, odds }) =>
        html('tr', {}, [
          html('th', { scope: 'row' }, [name]),
          html('td', {}, [percent(share)]),
          html('td', { class: 'more' }, [odds === null ? '' : `evidence ${odds}`]),
        ]),
      ),
    ),
  ]);
}
