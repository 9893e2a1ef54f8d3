// What the page did not ask for: something else done or read at the car, evidence from
// elsewhere, the proof load, and the ways out of a stage.

import type { BayAction } from '../../host/contract/api.ts';
import { html } from '../dom.ts';
import { form } from '../form.ts';

type Evidence = Extract<BayAction, { do: 'evidence' }>;
type Did = Extract<BayAction, { do: 'did' }>;

const KINDS: Record<Evidence['kind'], string> = {
  'fault code': 'a fault code is stored',
  'switch state': 'a switch reads as it should not',
  'shared bus': 'shares a bus with a module that is suspected',
  'night family': 'the night shows wake-ups as it makes them',
  'function test': 'its function was tested and passed',
  other: 'something else',
};
const DEEDS: [Did['what'], string][] = [
  ['pulled', 'pulled'],
  ['unplugged', 'unplugged'],
  ['refitted', 'put back'],
];

/**
 * @param send rejects with an Error in words
 * @param toOrder brings what is to be done next into sight
 * @param boxTable where the voltages of a whole box are typed
 */
// oxlint-disable-next-line max-lines-per-function -- one form for each deed, side by side
export function deeds(
  send: (action: BayAction) => Promise<unknown>,
  toOrder: () => void,
  boxTable: HTMLElement,
): HTMLElement {
  const noted = async (action: BayAction) => {
    await send(action);
    return 'Noted.';
  };
  const place = {
    key: 'name',
    label: 'Fuse or part',
    hint: 'as the feed tree has it; box/position where two are called so',
    value: '',
  };
  const quick = (label: string, hint: string, action: BayAction) =>
    html('p', { class: 'quick' }, [
      html('button', { type: 'button', click: () => void send(action).then(toOrder, () => undefined) }, [label]),
      html('span', { class: 'more' }, [hint]),
    ]);
  const group = (title: string, ...content: HTMLElement[]) =>
    html('details', { class: 'deed' }, [html('summary', {}, [title]), ...content]);
  return html('div', { class: 'deeds' }, [
    group(
      'Something else was done',
      form(
        'did',
        [{ key: 'what', label: 'It was', value: 'pulled', choices: DEEDS }, place],
        'Note it',
        ({ what, name }) => noted({ do: 'did', what: what as Did['what'], name: name! }),
      ),
    ),
    group(
      'A voltage across another fuse',
      form(
        'drop',
        [
          { ...place, label: 'Fuse' },
          { key: 'mV', label: 'Voltage', hint: 'mV', value: '', numeric: true },
        ],
        'Note it',
        ({ name, mV }) => noted({ do: 'drop', name: name!, drop_mV: numberOf(mV!, 'a voltage in mV') }),
      ),
    ),
    group('The voltages of a whole box', boxTable),
    group(
      'A fuse to be left alone',
      form(
        'alone',
        [
          {
            key: 'alone',
            label: 'It is',
            value: 'yes',
            choices: [
              ['yes', 'to be left alone'],
              ['no', 'no longer to be left alone'],
            ],
          },
          place,
        ],
        'Note it',
        ({ alone, name }) => noted({ do: 'alone', name: name!, alone: alone === 'yes' }),
      ),
    ),
    group(
      'Evidence from elsewhere',
      form(
        'evidence',
        [
          place,
          {
            key: 'kind',
            label: 'What speaks for it, or against it',
            value: 'fault code',
            choices: Object.entries(KINDS),
          },
          { key: 'text', label: 'What was read or seen', value: '' },
          { key: 'source', label: 'Who or what says so', value: '' },
        ],
        'Note it',
        ({ name, kind, text, source }) =>
          noted({
            do: 'evidence',
            name: name!,
            kind: kind as Evidence['kind'],
            text: text!,
            source: source === '' ? 'noted at the car' : source!,
          }),
      ),
    ),
    group(
      'Check the board with a known resistor',
      html('p', { class: 'more' }, [
        'Best while preparing. A resistor gets hot: the page says how much it has to stand.',
      ]),
      form(
        'proof',
        [
          { key: 'ohm', label: 'Resistance', hint: 'ohm', value: '', numeric: true },
          { key: 'percent', label: 'Tolerance', hint: '%', value: '1', numeric: true },
        ],
        'Begin the check',
        ({ ohm, percent }) =>
          noted({
            do: 'proof',
            resistor_Ohm: numberOf(ohm!, 'a resistance in ohm'),
            tolerance_percent: numberOf(percent!, 'a tolerance in %'),
          }),
      ),
    ),
    group(
      'Leave this part out',
      quick('All is prepared already', 'skips the rest of the list', { do: 'ready' }),
      quick('Give up the search', 'it ends undecided; what is out goes back in', { do: 'give-up' }),
    ),
  ]);
}

function numberOf(text: string, what: string): number {
  const value = Number(text.replace(',', '.'));
  if (text === '' || !Number.isFinite(value)) throw new Error(`'${text}' is not ${what}.`);
  return value;
}
