// Keys at the car: one key is one action, as in the terminal, since hands are greasy and
// a foot switch types a single key.

import type { BayAction, BayView } from '../../host/contract/api.ts';
import { ACTION_OF } from './words.ts';

export type KeyDoes = { act: BayAction } | { typeDrop: string } | null;

/** A key, and what it does. */
export const KEY_WORDS: readonly [key: string, does: string][] = [
  ['Enter or space', 'done (a foot switch that types one of them will do)'],
  ['Y, N', 'yes, no'],
  ['digits', 'the voltage that is asked for'],
  ['S', 'not possible here'],
  ['W', 'take the last one back'],
  ['B', 'the bridge is on now; once more: it is off'],
];

/** What a key does now; null: nothing. */
export function keyDoes(key: string, { answers, bridge }: BayView): KeyDoes {
  const may = (answer: keyof typeof ACTION_OF): KeyDoes =>
    answers.includes(answer) ? { act: ACTION_OF[answer] } : null;
  if (/^\d$/.test(key)) return answers.includes('drop') ? { typeDrop: key } : null;
  switch (key.toLowerCase()) {
    case 'enter':
    case ' ':
      return may('tap');
    case 'y':
      return may('yes');
    case 'n':
      return may('no');
    case 's':
      return may('skip');
    case 'w':
      return may('wrong');
    case 'b':
      return { act: { do: 'bridge', on: bridge === 'off' } };
    default:
      return null;
  }
}
