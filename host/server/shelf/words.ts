// What a capture is found by: its name, its job, what came of the night, and its date as
// people write it. Pure.

import type { CaptureSummary } from '../../contract/api.ts';
import type { VerdictCode } from '../../contract/findings.ts';
import { VERDICT_TAGS, WORK_TAG } from '../../say/verdict.ts';

/**
 * As people write the day on which a night began: `friday 20 november 2026 20:52`,
 * `2026-11-20`, `20.11.2026`, `20/11/2026`, without leading zeros too. In the computer's time zone.
 */
function dateWords(start: string | null): string {
  const date = start === null ? null : new Date(start);
  if (date === null || Number.isNaN(date.getTime())) return '';
  const two = (n: number) => String(n).padStart(2, '0');
  const [year, month, day] = [date.getFullYear(), date.getMonth() + 1, date.getDate()];
  const said = date.toLocaleDateString('en-GB', { weekday: 'long', day: 'numeric', month: 'long', year: 'numeric' });
  const spelt = ['.', '/'].flatMap((sign) => [
    [two(day), two(month), year].join(sign),
    [day, month, year].join(sign),
    // Where the month is written first.
    [month, day, year].join(sign),
  ]);
  return [
    said,
    `${year}-${two(month)}-${two(day)}`,
    `${two(date.getHours())}:${two(date.getMinutes())}`,
    ...spelt,
  ].join(' ');
}

/** What a verdict is asked for by, beside the words that the list shows: its code, and what people say. */
const VERDICT_WORDS: Record<VerdictCode, string> = {
  within: 'in order',
  over: 'too high',
  wakes: 'wakes woken',
  awake: 'awake',
  short: 'short',
};

/** All that a search looks through, in lower case. */
export function wordsOf(summary: CaptureSummary): string {
  const more =
    summary.state === 'ready'
      ? [
          summary.job,
          ...(summary.work ? [WORK_TAG] : [VERDICT_TAGS[summary.verdict.code], VERDICT_WORDS[summary.verdict.code]]),
          dateWords(summary.start),
        ]
      : summary.state === 'unreadable'
        ? ['unreadable', summary.reason]
        : [];
  return [summary.name, ...more].join('\n').toLowerCase();
}

/** The words of a search, each to be found. */
export const searchedFor = (text: string): string[] =>
  text
    .toLowerCase()
    .split(/\s+/)
    .filter((word) => word !== '');

/** A word anywhere, as LIKE wants it with `\\` as escape. */
export const likePattern = (word: string): string => `%${word.replace(/[\\%_]/g, '\\$&')}%`;
