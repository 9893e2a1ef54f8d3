// What is known of the car beside its current: allowance, battery, complaint. What is
// typed here is asked of the server anew, and changes every sentence that follows from it.

import { askFindings } from './ask.ts';
import type { Told } from './ask.ts';
import { html } from './dom.ts';
import { wordsOf } from './opening.ts';
import type { Store } from './store.ts';

interface Field {
  /** Key in the server's table of settings. */
  key: string;
  label: string;
  unit: string;
  /** Words instead of a number. */
  choices?: [string, string][];
  text?: true;
}

const FIELDS: readonly Field[] = [
  { key: 'dead_after_days', label: 'Complaint: dead after', unit: 'days' },
  { key: 'battery_type', label: 'Battery', unit: '', choices: [['', 'not told'], ['flooded', 'flooded'], ['agm', 'AGM']] },
  { key: 'capacity_Ah', label: 'Capacity', unit: 'Ah' },
  { key: 'before_V', label: 'Rested before the night', unit: 'V' },
  { key: 'after_V', label: 'Rested after it', unit: 'V' },
  { key: 'temperature_C', label: 'Temperature', unit: '°C' },
  { key: 'allowance_mA', label: 'Allowance', unit: 'mA' },
  { key: 'allowance_source', label: 'where that stands', unit: '', text: true },
];

export function mountToldForm(place: HTMLElement, store: Store): void {
  const inputs = new Map(FIELDS.map((field) => [field.key, inputOf(field)]));
  const trouble = html('p', { class: 'trouble', role: 'alert' });
  const form = html('form', { class: 'told', submit: (event) => void send(event) }, [
    ...FIELDS.map(({ key, label, unit }) => html('label', {}, [html('span', {}, [label]), inputs.get(key)!, html('span', { class: 'unit' }, [unit])])),
    html('div', { class: 'buttons' }, [html('button', { type: 'submit' }, ['Reckon with this']), html('button', { type: 'button', class: 'quiet', click: () => void clear() }, ['As it was'])]),
    trouble,
  ]);
  place.append(html('summary', {}, ['What is known of the car']), form);

  const ask = async (told: Told) => {
    const { name, night } = store.state;
    if (name === null || night === null) return;
    trouble.textContent = '';
    try {
      const findings = await askFindings(name, told);
      const now = store.state.night;
      if (store.state.name === name && now !== null) store.set({ told, night: { ...now, findings } });
    } catch (error) {
      trouble.textContent = wordsOf(error);
    }
  };
  const send = async (event: Event) => {
    event.preventDefault();
    const typed = [...inputs].map(([key, input]) => [key, input.value.trim().replace(/^(-?\d+),(\d+)$/, '$1.$2')] as const);
    await ask(Object.fromEntries(typed.filter(([, value]) => value !== '')));
  };
  const clear = async () => {
    for (const input of inputs.values()) input.value = '';
    await ask({});
  };
  store.listen((state, before) => {
    place.hidden = state.night === null;
    if (state.name === before.name) return;
    for (const input of inputs.values()) input.value = '';
    trouble.textContent = '';
  });
}

function inputOf({ key, choices, text }: Field): HTMLInputElement | HTMLSelectElement {
  if (choices !== undefined) return html('select', { name: key }, choices.map(([value, words]) => html('option', { value }, [words])));
  return html('input', { name: key, type: 'text', autocomplete: 'off', ...(text ? { maxlength: '200' } : { inputmode: 'decimal', size: '6' }) });
}
