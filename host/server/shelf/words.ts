// What a capture is found by: its name, its job, what came of the night, and its date as
// people write it. Pure.

import type { CaptureSummary } from '../../contract/api.ts';
import { VERDICT_TAGS } from '../../say/verdict.ts';

/** `fri 20 november 2026 2026-11-20 20:52`, in the computer's time zone. */
function dateWords(start: string | null): string {
  const date = start === null ? null : new Date(start);
  if (date === null || Number.isNaN(date.getTime())) return '';
  const two = (n: number) => String(n).padStart(2, '0');
  const said = date.toLocaleDateString('en-GB', { weekday: 'long', day: 'numeric', month: 'long', year: 'numeric' });
  return `${said} ${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())} ${two(date.getHours())}:${two(date.getMinutes())}`;
}

/** All that a search looks through, in lower case. */
export function wordsOf(summary: CaptureSummary): string {
  const more =
    summary.state === 'ready'
      ? [summary.job, VERDICT_TAGS[summary.verdict.code], dateWords(summary.start)]
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
