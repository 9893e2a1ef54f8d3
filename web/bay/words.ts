// What the bay's page says beside the words of the work itself: where it stands, what a
// button does, what is read out. Pure.

import { current, roughly } from '../../host/say/quantities.ts';
import type { BayAction, BayView } from '../../host/contract/api.ts';

export type Answer = BayView['answers'][number];
export type Said = BayView['said'][number];
/** What an answer sends; a voltage is typed first. */
export const ACTION_OF: Record<Exclude<Answer, 'drop'>, BayAction> = {
  tap: { do: 'tap' },
  yes: { do: 'yes' },
  no: { do: 'no' },
  skip: { do: 'skip' },
  wrong: { do: 'wrong' },
};

const STAGE: Record<BayView['stage'], string> = {
  preparing: 'Preparing',
  pulling: 'Looking for the draw',
  closing: 'Closing',
  done: 'Done',
};

/** Entries that somebody who looks elsewhere wants to hear. */
const TOLD_ALOUD = new Set([
  'result',
  'named',
  'found',
  'undecided',
  'nothing',
  'settled',
  'moved',
  'woke',
  'no-bridge',
]);

export function stageWords({ stage, step }: BayView): string {
  return step === null ? STAGE[stage] : `${STAGE[stage]}, ${step.number} of ${step.of}`;
}

export function answerWords(answer: Exclude<Answer, 'drop'>): string {
  switch (answer) {
    case 'tap':
      return 'Done';
    case 'yes':
      return 'Yes';
    case 'no':
      return 'No';
    case 'skip':
      return 'Not possible here';
    case 'wrong':
      return 'Take the last one back';
  }
}

/** In steps that a reader does not have to follow by the second; empty where nothing is waited for. */
export function waitWords({ wait }: BayView): string {
  if (wait === null) return '';
  return `This takes about ${roughly(wait.usually_s)}, at most ${roughly(wait.most_s)}.`;
}

/** What came after `last`; all where that is not among them any more. */
export function freshEntries(said: readonly Said[], last: Said | null): Said[] {
  const at = last === null ? -1 : said.findLastIndex((one) => one.t_s === last.t_s && one.text === last.text);
  return said.slice(at + 1);
}

/** Fit to be read out: the results that are new, then what to do. */
export function spokenOrder(view: BayView, fresh: readonly Said[]): string {
  const results = fresh
    .filter(({ code, text }) => TOLD_ALOUD.has(code) && !view.headline.includes(text))
    .map(({ text }) => text.replace(/[.;]?$/, '.'));
  return [...results, view.headline]
    .join(' ')
    .replace(/\bmA\b/g, 'milliamps')
    .replace(/\bmV\b/g, 'millivolts');
}

/** The draw now beside the one that the search began with. */
export function totalWords(view: BayView): string {
  if (view.total_mA === null) return '';
  return `${current(view.total_mA)} at the beginning${view.rest_mA === null || view.named.length === 0 ? '' : `; ${current(Math.max(0, view.rest_mA))} with all that is named gone`}`;
}

export const percent = (share: number): string => `${Math.round(share * 100)} %`;
