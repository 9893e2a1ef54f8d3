// What the night means, below the picture: what to do next, what to look out for, the
// charge bill line by line, what a healthy car does that is like it, and the battery.

import { unbroken } from '../host/say/quantities.ts';
import { BILL_HEAD, billRows } from '../host/say/bill.ts';
import { timeWords } from '../host/say/times.ts';
import type { Findings } from '../host/contract/findings.ts';
import { BEFORE_PULLING } from '../host/say/cautions.ts';
import { cautionList } from './cautions.ts';
import { html } from './dom.ts';
import type { Store } from './store.ts';

type Warnings = NonNullable<Findings['warnings']>;
type Bill = NonNullable<Findings['bill']>;
type Explanations = NonNullable<Findings['explanations']>;

export function mountMeaning(place: HTMLElement, store: Store): void {
  store.listen((state, before) => {
    if (state.night?.findings === before.night?.findings && state.info === before.info) return;
    const findings = state.night?.findings;
    // Work in the bay is no night to judge; its own next step stands above.
    place.hidden = findings?.next === undefined || state.info?.bay?.alone === true;
    place.replaceChildren(...(findings === undefined || place.hidden ? [] : parts(findings, state.night!.start_ms)));
  });
}

function parts(
  { next, warnings, bill, battery, complaint, explanations }: Findings,
  start_ms: number | null,
): HTMLElement[] {
  return [
    html('h2', { id: 'meaning-title' }, ['What it means']),
    html('p', { class: 'next' }, [html('strong', {}, ['Next: ']), unbroken(next ?? '')]),
    cautionList(BEFORE_PULLING),
    ...(warnings === undefined || warnings.length === 0 ? [] : [warningList(warnings)]),
    html('div', { class: 'meaning-columns' }, [
      ...(bill === undefined ? [] : [billTable(bill)]),
      ...(battery.sentence === undefined ? [] : [batteryWords(battery, complaint ?? null)]),
      ...(explanations === undefined || explanations.length === 0 ? [] : [likeness(explanations, start_ms)]),
    ]),
  ];
}

function warningList(warnings: Warnings): HTMLElement {
  return html(
    'ul',
    { class: 'warnings', 'aria-label': 'Warnings' },
    warnings.map((w) =>
      html('li', { 'data-warning': w.code, class: w.grave ? 'grave' : '' }, [
        html('p', {}, [w.grave ? html('strong', {}, ['First put this right. ']) : '', unbroken(w.sentence)]),
        html('p', { class: 'more' }, [unbroken(w.next)]),
      ]),
    ),
  );
}

function billTable(bill: Bill): HTMLElement {
  const { rows, total } = billRows(bill);
  const row = ([label, ...figures]: readonly string[]) =>
    html('tr', {}, [html('th', { scope: 'row' }, [label ?? '']), ...figures.map((text) => html('td', {}, [text]))]);
  const heads = BILL_HEAD.slice(1).map((text) => html('th', { scope: 'col' }, [text]));
  return html('section', {}, [
    html('h3', {}, ['The bill, line by line']),
    html('table', {}, [
      html('thead', {}, [html('tr', {}, [html('td'), ...heads])]),
      html('tbody', {}, rows.map(row)),
      html('tfoot', {}, [row(total)]),
    ]),
  ]);
}

function batteryWords(battery: Findings['battery'], complaint: NonNullable<Findings['complaint']> | null): HTMLElement {
  return html('section', {}, [
    html('h3', {}, ['Battery']),
    html('p', {}, [unbroken(battery.sentence ?? '')]),
    ...(complaint === null
      ? []
      : [html('p', {}, [unbroken(complaint.sentence)]), html('p', { class: 'more' }, [unbroken(complaint.next)])]),
    html('details', {}, [
      html('summary', {}, ['Taken for granted']),
      html(
        'ul',
        {},
        (battery.assumptions ?? []).map((text) => html('li', { class: 'more' }, [unbroken(text)])),
      ),
    ]),
  ]);
}

function likeness(explanations: Explanations, start_ms: number | null): HTMLElement {
  const words = timeWords(start_ms);
  return html('section', {}, [
    html('h3', {}, ['Possible normal causes']),
    html(
      'ul',
      {},
      explanations.map((e) =>
        html('li', {}, [
          html('p', {}, [unbroken(e.sentence)]),
          html('p', { class: 'more' }, [
            unbroken(e.next_due_s === null ? e.try : `${e.try} Next due at ${words.minutes(e.next_due_s)}.`),
          ]),
        ]),
      ),
    ),
  ]);
}
