// The report for the job file, made by the server and kept where the browser keeps what
// it fetches.

import { askReport } from './ask.ts';
import { fillChoice } from './capture-choice.ts';
import { isCapture } from './details-view.ts';
import { html } from './dom.ts';
import { fold } from './fold.ts';
import { form } from './form.ts';
import type { Field } from './form.ts';
import type { Store } from './store.ts';

const NO_BEFORE = 'no night before';
const NO_BAY = 'in this capture';

export function mountReport(place: HTMLElement, store: Store): void {
  let name: string | null = null;
  let own: HTMLElement | null = null;
  const { body } = fold(place, 'report-title', 'Report for the job file');
  const fill = () => {
    const choice = (key: string) => own?.querySelector<HTMLSelectElement>(`select[name="${key}"]`) ?? null;
    const { captures } = store.state;
    const before = choice('before'),
      bay = choice('bay');
    if (before !== null) fillChoice(before, captures, name, NO_BEFORE);
    if (bay !== null)
      fillChoice(
        bay,
        captures.filter((capture) => isCapture(capture.name)),
        name,
        NO_BAY,
      );
  };
  store.listen((state, past) => {
    const shown = state.night === null || state.pending ? null : state.name;
    if (shown !== name) {
      name = shown;
      place.hidden = shown === null;
      own =
        shown === null
          ? null
          : form('report', fields(isCapture(shown)), 'Make the report', async (values) => {
              const chosen = Object.fromEntries(Object.entries(values).filter(([, value]) => value !== ''));
              const { fileName, file } = await askReport(shown, { ...store.state.asked, ...chosen });
              keep(fileName, file);
              return `${fileName} is where this browser keeps what it fetches.`;
            });
      body.replaceChildren(
        ...(own === null
          ? []
          : [
              html('p', { class: 'more' }, [
                'One page for the customer and the job file: the verdict, the picture, what the night cost, and what came of the bay. It is judged by what you entered above.',
              ]),
              own,
            ]),
      );
      fill();
    } else if (state.captures !== past.captures) fill();
  });
}

/** A CSV says of nobody whose it is. */
function fields(namesPeople: boolean): Field[] {
  const choice = (key: string, label: string, choices: [string, string][]): Field => ({
    key,
    label,
    value: choices[0]![0],
    choices,
  });
  return [
    choice('format', 'As', [
      ['pdf', 'PDF'],
      ['html', 'web page (HTML)'],
      ['png', 'picture (PNG)'],
      ['svg', 'drawing (SVG)'],
    ]),
    choice('paper', 'Paper', [
      ['a4', 'A4'],
      ['letter', 'Letter'],
    ]),
    choice('before', 'Night before the repair', [['', NO_BEFORE]]),
    choice('bay', 'Work in the bay', [['', NO_BAY]]),
    ...(namesPeople
      ? [
          choice('personal', 'Plate and customer', [
            ['no', 'left out'],
            ['yes', 'stand in it'],
          ]),
        ]
      : []),
  ];
}

/** Browsers keep a file only where a link to it is followed. */
function keep(fileName: string, file: Blob): void {
  const address = URL.createObjectURL(file);
  html('a', { href: address, download: fileName }).click();
  // The browser has taken it by then.
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}
