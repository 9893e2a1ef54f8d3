// The report for the job file: chosen, looked at as it will be, and kept where the browser
// keeps what it fetches, printed, or written beside the capture as a job folder.

import { askReport, makeJobFolder, reportAddress, wordsOf } from './ask.ts';
import { fillChoice, nightsAmong } from './capture-choice.ts';
import { isCapture } from './details-view.ts';
import { html } from './dom.ts';
import { fold } from './fold.ts';
import { fieldRow } from './form.ts';
import type { Field } from './form.ts';
import { Preview } from './preview.ts';
import type { Store } from './store.ts';

const NO_BEFORE = 'no night before';
const NO_BAY = 'in this capture';
const FORMATS = [
  ['pdf', 'PDF'],
  ['png', 'Picture (PNG)'],
  ['html', 'Web page (HTML)'],
  ['svg', 'Drawing (SVG)'],
] as const;

// oxlint-disable-next-line max-lines-per-function -- one part of the page, built and kept up to date
export function mountReport(place: HTMLElement, store: Store): void {
  let name: string | null = null;
  const { details, body } = fold(place, 'report-title', 'Report for the job file');
  const said = html('p', { class: 'said', role: 'status' });
  const tell = (words: string, good: boolean) => {
    said.textContent = words;
    said.classList.toggle('refused', !good);
  };
  const preview = new Preview(tell);
  const choices = html('div', { class: 'form', 'data-form': 'report' });

  const question = () => {
    const chosen = [...choices.querySelectorAll('select')].map((each): [string, string] => [each.name, each.value]);
    return Object.fromEntries(
      [...Object.entries(store.state.asked), ...chosen].filter(([, value]) => value !== ''),
    ) as Record<string, string>;
  };
  const look = () => {
    if (name !== null && details.open) preview.show(reportAddress(name, question()));
  };
  const work = (words: string, deed: (shown: string) => Promise<string>) => () => {
    if (name === null) return;
    tell(words, true);
    deed(name).then(
      (text) => tell(text, true),
      (error: unknown) => tell(wordsOf(error), false),
    );
  };
  const button = (text: string, click: () => void) => html('button', { type: 'button', click }, [text]);
  const buttons = html('div', { class: 'form', role: 'group', 'aria-label': 'Keep the report' }, [
    ...FORMATS.map(([format, text]) =>
      button(
        text,
        work('Making the report.', async (shown) => {
          const { fileName, file } = await askReport(shown, { ...question(), format });
          keep(fileName, file);
          return `${fileName} is where this browser keeps what it fetches.`;
        }),
      ),
    ),
    button(
      'Job folder',
      work('Writing the job folder.', async (shown) => {
        const { folder, files } = await makeJobFolder(shown, question());
        return `${folder} lies beside the captures, with ${files.join(', ')}.`;
      }),
    ),
    button('Print', () => {
      if (!preview.print()) tell('The preview is still being made; print it when it is there.', false);
    }),
  ]);
  body.append(
    html('p', { class: 'more' }, [
      'One page for the customer and the job file: the verdict, the picture, what the night cost, and what came of the bay. It is judged by what you entered above. The job folder has the capture, the report and the readings.',
    ]),
    choices,
    buttons,
    said,
    preview.element,
  );
  choices.addEventListener('change', look);
  details.addEventListener('toggle', look);

  const fill = () => {
    const choice = (key: string) => choices.querySelector<HTMLSelectElement>(`select[name="${key}"]`);
    const { captures } = store.state;
    const [before, bay] = [choice('before'), choice('bay')];
    const kept = captures.filter((capture) => isCapture(capture.name));
    if (before !== null) fillChoice(before, nightsAmong(captures), name, NO_BEFORE);
    if (bay !== null) fillChoice(bay, kept, name, NO_BAY);
  };
  store.listen((state, past) => {
    const shown = state.night === null || state.pending ? null : state.name;
    if (shown !== name) {
      name = shown;
      place.hidden = shown === null;
      choices.replaceChildren(
        ...(shown === null ? [] : fields(isCapture(shown)).map((field) => fieldRow('report', field))),
      );
      preview.clear();
      tell('', true);
      fill();
      look();
      return;
    }
    if (state.captures !== past.captures) fill();
    // What was entered above, or a night that grew, is in the report too.
    if (state.night?.findings === past.night?.findings && state.info === past.info) return;
    preview.outdated();
    look();
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
