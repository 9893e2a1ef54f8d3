// The buttons over the picture: which scale, and where to look.

import { EVEN_BELOW_MA } from './chart/scales.ts';
import type { CurrentScaleKind } from './chart/scales.ts';
import { html } from './dom.ts';
import type { Looking } from './looking.ts';
import type { Store } from './store.ts';

export function mountControls(scalePlace: HTMLElement, movesPlace: HTMLElement, store: Store, look: Looking): void {
  scalePlace.replaceChildren(scaleChoice(store));
  const move = (label: string, action: () => void) => html('button', { type: 'button', click: action }, [label]);
  movesPlace.replaceChildren(
    move('Earlier', () => look.pan(-0.5)),
    move('Later', () => look.pan(0.5)),
    move('Closer', () => look.zoom(0.5)),
    move('Wider', () => look.zoom(2)),
    move('Whole night', () => look.whole()),
  );
}

function scaleChoice(store: Store): HTMLElement {
  const option = (kind: CurrentScaleKind, label: string, title: string) =>
    html('label', { title }, [
      html('input', {
        type: 'radio',
        name: 'scale',
        value: kind,
        ...(store.state.scale === kind ? { checked: true } : {}),
        change: () => store.set({ scale: kind }),
      }),
      html('span', {}, [label]),
    ]);
  return html('fieldset', { class: 'scale' }, [
    html('legend', {}, ['Current']),
    option(
      'log',
      'logarithmic',
      `Equal height for each factor of ten; linear below ${EVEN_BELOW_MA} mA, so that zero and charging can be seen`,
    ),
    option('linear', 'linear', 'Every milliampere is as tall as any other; the part in the picture fills it'),
  ]);
}
