// What a voice answers: whole sentences of a few words, so that talk beside the car does nothing.

import type { BayAction, BayView } from '../../host/contract/api.ts';
import { ACTION_OF } from './words.ts';

export type HeardDoes = { act: BayAction } | { voltage_mV: number } | { note: true } | null;

/** What is said, and what it does. */
export const SAID_WORDS: readonly [said: string, does: string][] = [
  ['“done”', 'the large button'],
  ['“yes”, “no”', 'yes, no'],
  ['“three point five”, then “note it”', 'the voltage that is asked for; it is read back in between'],
  ['“not possible”', 'not possible here'],
  ['“take it back”', 'take the last one back'],
  ['“bridge on”, “bridge off”', 'the bridge is on, is off now'],
];

const ANSWERS = new Map<string, keyof typeof ACTION_OF>(
  Object.entries({
    done: 'tap',
    yes: 'yes',
    no: 'no',
    'not possible': 'skip',
    'not possible here': 'skip',
    'take it back': 'wrong',
    'take the last one back': 'wrong',
  } as const),
);

const UNDER_TEN = 'zero one two three four five six seven eight nine';
const TEENS = 'ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen';
const ONES = `${UNDER_TEN} ${TEENS}`.split(' ');
const TENS = 'twenty thirty forty fifty sixty seventy eighty ninety'.split(' ');

/** What a sentence that was heard does now; null: nothing. */
export function heardDoes(sentence: string, { answers }: BayView): HeardDoes {
  const words = sentence
    .toLowerCase()
    .replace(/[^\p{L}\p{N}. -]/gu, '')
    .replace(/\.(?!\d)/g, '')
    .trim();
  const answer = ANSWERS.get(words);
  if (answer !== undefined) return answers.includes(answer) ? { act: ACTION_OF[answer] } : null;
  if (words === 'bridge on' || words === 'bridge off') return { act: { do: 'bridge', on: words === 'bridge on' } };
  if (!answers.includes('drop')) return null;
  if (words === 'note it') return { note: true };
  const voltage_mV = numberSaid(words.replace(/ ?(?:mv|millivolts?)$/, ''));
  return voltage_mV === null ? null : { voltage_mV };
}

/** A number of digits or of words, below 1000 before the point; null: something else is in it. */
function numberSaid(words: string): number | null {
  const [whole = '', ...after] = words.replace(/^(?:minus|negative) /, '-').split(/ ?\bpoint\b ?/);
  const sign = whole.startsWith('-') ? -1 : 1;
  const before = wholeSaid(whole.replace(/^-/, ''));
  if (before === null || after.length > 1) return null;
  if (after.length === 0) return sign * before;
  const digits = after[0]!.split(' ').map((word) => (/^\d+$/.test(word) ? word : String(ONES.indexOf(word))));
  return digits.every((digit) => /^\d+$/.test(digit)) ? sign * Number(`${before}.${digits.join('')}`) : null;
}

function wholeSaid(words: string): number | null {
  if (/^\d{1,3}(?:\.\d+)?$/.test(words)) return Number(words);
  const [, hundreds, , rest] = /^(?:(\w+) hundred( and)? ?)?(.*)$/.exec(words)!;
  const many = hundreds === undefined ? 0 : ONES.indexOf(hundreds);
  if (many < 0 || many > 9) return null;
  if (rest === '') return hundreds === undefined ? null : 100 * many;
  const [first = '', second] = rest!.split(/[ -]/);
  const tens = TENS.indexOf(first);
  const ones = ONES.indexOf(second ?? first);
  if (tens < 0) return second === undefined && ones >= 0 ? 100 * many + ones : null;
  if (second === undefined) return 100 * many + 20 + 10 * tens;
  return ones > 0 && ones < 10 ? 100 * many + 20 + 10 * tens + ones : null;
}
