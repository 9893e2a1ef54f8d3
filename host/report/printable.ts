// Texts that somebody typed, made fit to be printed.

/** Longest of a typed text that one page has room for. */
const TYPED_MAX = 160;
const SENTENCE_MAX = 600;

/** Typed text on one line: no control or direction-changing letters, halves of letters, cut where too long. */
export function printable(text: string): string {
  const plain = text
    .replace(/[\p{Cs}\p{Cc}\p{Zl}\p{Zp}\u200b-\u200f\u202a-\u202e\u2060-\u206f\ufeff\ufffe\uffff]+/gu, ' ')
    .trim();
  const letters = [...plain];
  return letters.length <= TYPED_MAX ? plain : `${letters.slice(0, TYPED_MAX - 1).join('')}…`;
}

/** Sentences may hold what somebody typed, such as the source of the allowance; they are cut far later. */
export function printed(sentence: string): string {
  return sentence
    .replace(/[\p{Cs}\p{Cc}\u200b-\u200f\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff]+/gu, ' ')
    .slice(0, SENTENCE_MAX)
    .replace(/\p{Cs}/gu, '');
}
