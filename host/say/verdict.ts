// The verdict in two or three words, for whoever sees no colour, for lists and for a search.

import type { VerdictCode } from '../contract/findings.ts';

export const VERDICT_TAGS: Record<VerdictCode, string> = {
  within: 'Within the allowance',
  over: 'Over the allowance',
  wakes: 'Too many wake-ups',
  awake: 'Never asleep',
  short: 'Too short to tell',
};
