// The job: what a capture says of itself, kept in its file. Plate, vehicle and customer
// are nobody else's business: they are asked for when the form is opened, not before.

import type { Details } from '../host/server/api.ts';
import { askDetails, askInfo, changeDetails } from './ask.ts';
import { html } from './dom.ts';
import { wordsOf } from './opening.ts';
import type { Store } from './store.ts';

const FIELDS: readonly [keyof Details, string][] = [['job', 'Job'], ['plate', 'Number plate'], ['vehicle', 'Vehicle'], ['customer', 'Customer']];
const LIMITS: Record<keyof Details, string> = { job: '500', plate: '40', vehicle: '120', customer: '200' };

export function mountJobForm(place: HTMLDetailsElement, store: Store): void {
  const inputs = new Map(FIELDS.map(([key]) => [key, html('input', { name: key, type: 'text', maxlength: LIMITS[key], autocomplete: 'off' })]));
  const said = html('p', { class: 'said', role: 'status' });
  const form = html('form', { class: 'job', submit: (event) => void send(event) }, [
    ...FIELDS.map(([key, label]) => html('label', {}, [html('span', {}, [label]), inputs.get(key)!])),
    html('p', { class: 'more' }, ['Kept in the capture. Plate, vehicle and customer go into a report or an export only where they are asked for.']),
    html('div', { class: 'buttons' }, [html('button', { type: 'submit' }, ['Keep'])]),
    said,
  ]);
  place.append(html('summary', {}, ['Job']), form);
  let kept: Details | null = null;

  const fill = async () => {
    const { name } = store.state;
    if (name === null || !place.open) return;
    try {
      kept = await askDetails(name);
      if (store.state.name === name) for (const [key, input] of inputs) input.value = kept[key];
      said.textContent = '';
    } catch (error) {
      said.textContent = wordsOf(error);
    }
  };
  const send = async (event: Event) => {
    event.preventDefault();
    const { name } = store.state;
    if (name === null) return;
    const changed = [...inputs].flatMap(([key, input]) => (input.value === kept?.[key] ? [] : [[key, input.value] as const]));
    try {
      if (changed.length > 0) kept = await changeDetails(name, Object.fromEntries(changed));
      said.textContent = 'Kept.';
      const info = await askInfo(name);
      if (store.state.name === name) store.set({ info, captures: store.state.captures.map((c) => (c.name === name && c.state === 'ready' ? { ...c, job: info.job } : c)) });
    } catch (error) {
      said.textContent = wordsOf(error);
    }
  };
  place.addEventListener('toggle', () => void fill());
  store.listen((state, before) => {
    place.hidden = state.info === null;
    // A .csv holds no job: only captures can be written to.
    if (state.info !== null && !/\.nightdraw$/i.test(state.info.name)) place.hidden = true;
    if (state.name !== before.name) void fill();
  });
}
