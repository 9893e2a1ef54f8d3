// The straight way through a row of a CSV: digits, points and delimiters in one pass.
// Whatever is not plain (quotes, blanks, exponents, decimal commas, blank cells, a wrong
// width, a value that no meter means) is left to the careful way, which also words the complaints.

import { DIGITS_EXACT, POWER_EXACT, POWERS } from './csv-values.ts';

const LF = 10,
  CR = 13,
  QUOTE = 34,
  MINUS = 45,
  POINT = 46;

/** What becomes of a column: null where nobody wants it. */
export interface PlainColumn {
  /** Power of ten that its values are multiplied by. */
  shift: number;
  /** Beyond this, either sign, is for the careful way to complain of. */
  most: number;
  into: Float64Array;
}

/**
 * Reads the row that begins at `from` into place `at` of its columns.
 * @returns where the next row begins, or -1 where this one is not plain or not whole
 */
export function plainRow(
  bytes: Uint8Array,
  from: number,
  columns: readonly (PlainColumn | null)[],
  delimiter: number,
  at: number,
): number {
  const length = bytes.length,
    last = columns.length - 1;
  let p = from;
  for (let field = 0; field <= last; field++) {
    const column = columns[field]!;
    if (column === null) {
      for (let c = bytes[p]!; p < length && c !== delimiter && c !== LF && c !== CR; c = bytes[++p]!)
        if (c === QUOTE) return -1;
    } else {
      const negative = bytes[p] === MINUS;
      if (negative) p++;
      let mantissa = 0,
        digits = 0,
        point = -1;
      for (; p < length; p++) {
        const c = bytes[p]!;
        if (c >= 48 && c <= 57) {
          mantissa = mantissa * 10 + (c - 48);
          digits++;
        } else if (c === POINT && point < 0) point = p;
        else break;
      }
      const exponent = column.shift - (point < 0 ? 0 : p - 1 - point);
      if (digits === 0 || digits > DIGITS_EXACT || exponent > POWER_EXACT || exponent < -POWER_EXACT) return -1;
      const value = exponent < 0 ? mantissa / POWERS[-exponent]! : mantissa * POWERS[exponent]!;
      if (value > column.most) return -1;
      column.into[at] = negative ? -value : value;
    }
    if (field === last && bytes[p] === CR) p++;
    if (p >= length || bytes[p] !== (field === last ? LF : delimiter)) return -1;
    p++;
  }
  return p;
}
