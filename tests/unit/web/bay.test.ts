// What the bay's page makes of a view: words, what is read out, keys, and files in old encodings.
import { expect, test } from 'vitest';
import type { BayView } from '../../../host/contract/api.ts';
import { csvText as hostText } from '../../../host/bay/tree/csv-text.ts';
import { heardDoes } from '../../../web/bay/heard.ts';
import { keyDoes } from '../../../web/bay/keys.ts';
import { csvText, whyNoCsv } from '../../../web/bay/tree-file.ts';
import { freshEntries, spokenOrder, stageWords, totalWords, waitWords } from '../../../web/bay/words.ts';

const VIEW: BayView = {
  answered: 0,
  stage: 'pulling',
  headline: 'Pull fuse F3 (dash).',
  why: '',
  cautions: [],
  answers: ['tap', 'skip'],
  sight: null,
  step: null,
  move: null,
  bridge: 'off',
  out: [],
  alone: [],
  finished: null,
  closing: [],
  said: [],
  wait: null,
  others: [],
  total_mA: 350,
  named: [],
  sought: [],
  rest_mA: 350,
  feed: { states: '', shares: [], named: [], out: [], alone: [], restricted: [], next: null },
};
const said = (t_s: number, code: string, text: string) => ({ t_s, code, text });

test('stage, wait and draw in words', () => {
  expect(stageWords(VIEW)).toBe('Looking for the draw');
  expect(stageWords({ ...VIEW, stage: 'preparing', step: { number: 3, of: 11 } })).toBe('Preparing, 3 of 11');
  expect([
    waitWords(VIEW),
    waitWords({ ...VIEW, wait: { usually_s: 12, most_s: 240 } }),
    waitWords({ ...VIEW, wait: { usually_s: 0, most_s: 95 } }),
  ]).toEqual(['', 'This takes about 10 s, at most 4 min.', 'This takes about 10 s, at most 2 min.']);
  expect(totalWords({ ...VIEW, total_mA: null })).toBe('');
  expect(totalWords(VIEW)).toBe('350 mA at the beginning');
  expect(totalWords({ ...VIEW, named: [{ name: 'x', way: 'x', amount_mA: 330, sigma_mA: 1 }], rest_mA: -0.4 })).toBe(
    '350 mA at the beginning; 0 mA with all that is named gone',
  );
});

test('results that are new are read out before what to do; what the sentence says already is not said twice', () => {
  const entries = [
    said(1, 'prepared', 'list'),
    said(2, 'result', 'F3 pulled: 236 mA less'),
    said(3, 'named', 'the box draws 236 mA'),
  ];
  expect(freshEntries(entries, null)).toHaveLength(3);
  expect(freshEntries(entries, entries[1]!)).toEqual([entries[2]]);
  expect(freshEntries(entries, said(0, 'x', 'of long ago'))).toHaveLength(3);
  expect(spokenOrder(VIEW, entries)).toBe(
    'F3 pulled: 236 milliamps less. the box draws 236 milliamps. Pull fuse F3 (dash).',
  );
  expect(spokenOrder({ ...VIEW, headline: 'Found: the box draws 236 mA.' }, entries.slice(2))).toBe(
    'Found: the box draws 236 milliamps.',
  );
});

test('a key does what may be answered now, and nothing else', () => {
  const act = (key: string, view: Partial<BayView> = {}) => keyDoes(key, { ...VIEW, ...view });
  for (const key of ['Enter', ' ']) expect(act(key)).toEqual({ act: { do: 'tap' } });
  expect([act('y'), act('n'), act('w'), act('5'), act('F5'), act('x'), act('Tab')]).toEqual([
    null,
    null,
    null,
    null,
    null,
    null,
    null,
  ]);
  expect([act('S'), act('b'), act('B', { bridge: 'on' })]).toEqual([
    { act: { do: 'skip' } },
    { act: { do: 'bridge', on: true } },
    { act: { do: 'bridge', on: false } },
  ]);
  expect([
    act('y', { answers: ['yes', 'no'] }),
    act('N', { answers: ['yes', 'no'] }),
    act('Enter', { answers: ['yes', 'no'] }),
  ]).toEqual([{ act: { do: 'yes' } }, { act: { do: 'no' } }, null]);
  expect([act('4', { answers: ['drop', 'skip'] }), act('Enter', { answers: ['drop'] })]).toEqual([
    { typeDrop: '4' },
    null,
  ]);
});

test('a file in any usual encoding reads as on the command line', () => {
  const utf16 = (text: string, order: 'le' | 'be') => {
    const bytes = Buffer.from(`\ufeff${text}`, 'utf16le');
    return order === 'le' ? bytes : bytes.swap16();
  };
  const text = 'box;position\nMöbel;F1';
  for (const bytes of [
    Buffer.from(text),
    Buffer.from(text, 'latin1'),
    utf16(text, 'le'),
    utf16(text, 'be'),
    Buffer.alloc(0),
  ]) {
    expect(csvText(bytes)).toBe(hostText(bytes));
    if (bytes.length > 0) expect(csvText(bytes)).toBe(text);
  }
});

test('a sentence that was heard does what may be answered now; talk does nothing', () => {
  const hear = (sentence: string, view: Partial<BayView> = {}) => heardDoes(sentence, { ...VIEW, ...view });
  for (const said of ['Done.', 'done', ' Done ']) expect(hear(said)).toEqual({ act: { do: 'tap' } });
  for (const talk of ['', 'well done', 'done with it?', 'yes', 'wrong', '3.5', 'note it', 'constructor']) {
    expect(hear(talk), talk).toBeNull();
  }
  expect([hear('Not possible.'), hear('Bridge on'), hear('bridge off')]).toEqual([
    { act: { do: 'skip' } },
    { act: { do: 'bridge', on: true } },
    { act: { do: 'bridge', on: false } },
  ]);
  const answers: BayView['answers'] = ['drop', 'yes', 'no', 'wrong'];
  expect([hear('Yes', { answers }), hear('No.', { answers }), hear('Take it back', { answers })]).toEqual([
    { act: { do: 'yes' } },
    { act: { do: 'no' } },
    { act: { do: 'wrong' } },
  ]);
  expect(hear('note it', { answers })).toEqual({ note: true });
});

test('a voltage is heard in digits and in words', () => {
  const mV = (sentence: string) => heardDoes(sentence, { ...VIEW, answers: ['drop'] });
  const numbers: [said: string, mV: number][] = [
    ['3.5', 3.5],
    ['3.5 mV.', 3.5],
    ['zero', 0],
    ['Three point five millivolts.', 3.5],
    ['0 point 0 5', 0.05],
    ['minus one point two', -1.2],
    ['-1.2', -1.2],
    ['fourteen', 14],
    ['twenty', 20],
    ['forty-two point one', 42.1],
    ['one hundred and six', 106],
    ['two hundred', 200],
  ];
  for (const [said, value] of numbers) expect(mV(said), said).toEqual({ voltage_mV: value });
  for (const said of ['three four', 'point', 'five point', 'one point two point three', 'twenty eleven', 'ten hundred'])
    expect(mV(said), said).toBeNull();
});

test('a file that is no CSV is told, before it is taken for one', () => {
  expect(whyNoCsv(Uint8Array.of())).toBe('is empty');
  for (const head of [
    [0x50, 0x4b, 3, 4],
    [0xd0, 0xcf, 0x11, 0xe0],
  ])
    expect(whyNoCsv(Uint8Array.from(head))).toContain('save it as CSV');
  expect(whyNoCsv(new TextEncoder().encode('box,position'))).toBeNull();
});
