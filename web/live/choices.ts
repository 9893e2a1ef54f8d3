// How the live traces are shown: one choice for all panels.

import type { CurrentScaleKind } from '../chart/scales.ts';
import { html } from '../dom.ts';
import { KEPT_S } from './state.ts';

export interface TraceChoice {
  kind: CurrentScaleKind;
  /** From the left edge to now. */
  span_s: number;
}

export const FIRST_CHOICE: TraceChoice = { kind: 'linear', span_s: 30 };

const SPANS: [number, string][] = [
  [30, '30 s'],
  [KEPT_S, '2 min'],
];

export const currentScaleWords = (kind: CurrentScaleKind): string =>
  kind === 'log' ? 'Equal height for each factor of ten' : 'Fitted to what is in view: it does not begin at zero';

export function choiceControls(choose: (choice: TraceChoice) => void): HTMLElement {
  let choice = FIRST_CHOICE;
  const set = (part: Partial<TraceChoice>) => choose((choice = { ...choice, ...part }));
  const radio = (name: string, label: string, checked: boolean, title: string, change: () => void) =>
    html('label', { title }, [
      html('input', { type: 'radio', name, value: label, checked, change }),
      html('span', {}, [label]),
    ]);
  return html('div', { class: 'choices' }, [
    html('fieldset', { class: 'scale' }, [
      html('legend', {}, ['Traces show']),
      ...SPANS.map(([span_s, label]) =>
        radio('span', label, span_s === FIRST_CHOICE.span_s, '', () => set({ span_s })),
      ),
    ]),
    html('fieldset', { class: 'scale' }, [
      html('legend', {}, ['Current']),
      radio('kind', 'fitted', true, currentScaleWords('linear'), () => set({ kind: 'linear' })),
      radio('kind', 'logarithmic', false, currentScaleWords('log'), () => set({ kind: 'log' })),
    ]),
  ]);
}
