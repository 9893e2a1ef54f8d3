// What the capture says of its job; changed here, it is kept in the capture.

import { askDetails, changeDetails, wordsOf } from './ask.ts';
import { html } from './dom.ts';
import { fold } from './fold.ts';
import { form } from './form.ts';
import type { Field } from './form.ts';
import type { Details } from '../host/contract/api.ts';
import { reread } from './opening.ts';
import type { Store } from './store.ts';

/** Whether a file has room for what is typed: a CSV has not. */
export function isCapture(name: string): boolean {
  return /\.nightdraw$/i.test(name);
}

const CSV_WORDS =
  'This is a CSV, which has no room for job details or marks. Import it first: nightdraw import FILE.csv --out FILE.nightdraw';

export function mountDetails(place: HTMLElement, store: Store): void {
  let name: string | null = null;
  const { body } = fold(place, 'details-title', 'The job');
  const fill = async (shown: string) => {
    if (!isCapture(shown)) {
      body.replaceChildren(html('p', { class: 'more' }, [CSV_WORDS]));
      return;
    }
    const details = await askDetails(shown);
    if (name !== shown) return;
    body.replaceChildren(
      form('details', fields(details), 'Save', async (values) => {
        await changeDetails(shown, values);
        await reread(store, shown);
        return 'Kept in the capture.';
      }),
      html('p', { class: 'more' }, [
        'Plate and customer name a person: nightdraw forget FILE takes them out before a capture is passed on.',
      ]),
    );
  };
  store.listen((state) => {
    const shown = state.night === null ? null : state.name;
    if (shown === name) return;
    name = shown;
    place.hidden = shown === null;
    body.replaceChildren();
    if (shown !== null) fill(shown).catch((error: unknown) => body.replaceChildren(html('p', {}, [wordsOf(error)])));
  });
}

function fields(details: Details): Field[] {
  return [
    { key: 'job', label: 'Job', value: details.job, length_max: 500 },
    { key: 'vehicle', label: 'Vehicle', value: details.vehicle, length_max: 120 },
    { key: 'plate', label: 'Plate', value: details.plate, length_max: 40 },
    { key: 'customer', label: 'Customer', value: details.customer, length_max: 200 },
  ];
}
