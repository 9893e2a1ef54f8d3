// A form that sends its fields as they were typed and tells in words how that went.

import { html } from './dom.ts';
import { wordsOf } from './ask.ts';

export interface Field {
  key: string;
  label: string;
  /** Small words beneath the label: unit, what is usual. */
  hint?: string;
  value: string;
  /** Where given, one of these; each as value and what is read. */
  choices?: [value: string, text: string][];
  length_max?: number;
  /** The keyboard that a tablet shows. */
  numeric?: boolean;
}

function control(id: string, field: Field): HTMLElement {
  if (field.choices !== undefined) {
    const select = html(
      'select',
      { id, name: field.key },
      field.choices.map(([value, text]) => html('option', { value, selected: value === field.value }, [text])),
    );
    return select;
  }
  return html('input', {
    id,
    name: field.key,
    type: 'text',
    value: field.value,
    autocomplete: 'off',
    maxlength: String(field.length_max ?? 200),
    ...(field.numeric === true ? { inputmode: 'decimal' } : {}),
  });
}

/** A field with its label; `form` keeps ids apart. */
export function fieldRow(form: string, field: Field): HTMLElement {
  const id = `${form}-${field.key}`;
  return html('div', { class: 'field' }, [
    html('label', { for: id }, [
      field.label,
      ...(field.hint === undefined ? [] : [html('span', { class: 'more' }, [field.hint])]),
    ]),
    control(id, field),
  ]);
}

/** A refusal names the keys of what was sent; the reader knows the fields by their labels. */
const labelled = (words: string, fields: readonly Field[]): string =>
  fields.reduce((told, { key, label }) => told.replaceAll(`${key}: `, `${label}: `), words);

/**
 * @param send gets all fields trimmed; resolves to what to say, rejects with an error whose sentence is shown
 */
export function form(
  name: string,
  fields: Field[],
  button: string,
  send: (values: Record<string, string>) => Promise<string>,
): HTMLElement {
  const said = html('p', { class: 'said', role: 'status' });
  const rows = fields.map((field) => fieldRow(name, field));
  const submit = (event: Event) => {
    event.preventDefault();
    const values = Object.fromEntries(
      [...new FormData(own)].map(([key, value]) => [key, typeof value === 'string' ? value.trim() : '']),
    );
    said.textContent = '';
    own.setAttribute('aria-busy', 'true');
    send(values).then(
      (text) => tell(text, true),
      (error: unknown) => tell(labelled(wordsOf(error), fields), false),
    );
  };
  const tell = (text: string, good: boolean) => {
    own.removeAttribute('aria-busy');
    said.textContent = text;
    said.classList.toggle('refused', !good);
  };
  const own = html('form', { class: 'form', 'data-form': name, submit }, [
    ...rows,
    html('button', { type: 'submit' }, [button]),
    said,
  ]);
  return own;
}
