// The verdict in two or three words, for whoever sees no colour, for lists and for a search.

import type { VerdictCode } from '../contract/findings.ts';

/** Of a recording that is no night to judge. */
export const WORK_TAG = 'Work in the bay';

export const VERDICT_TAGS: Record<VerdictCode, string> = {
  within: 'Within the allowance',
  over: 'Over the allowance',
  wakes: 'Too many wake-ups',
  awake: 'Never asleep',
  short: 'Too short to tell',
};
