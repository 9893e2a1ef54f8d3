// The straight way through a row of a CSV: digits, points and delimiters in one pass.
// Whatever is not plain (quotes, blanks, exponents, decimal commas, blank cells, a wrong
// width, a value that no meter means) is left to the careful way, which also words the complaints.

import { DIGITS_EXACT, POWER_EXACT, POWERS } from './csv-values.ts';

const LF = 10,
  CR = 13,
  QUOTE = 34,
  MINUS = 45,
  POINT = 46,
  ZERO = 48;

/** What becomes of a column: null where nobody wants it. */
export interface PlainColumn {
  /** Power of ten that its values are multiplied by. */
  shift: number;
  /** Beyond this, either sign, is for the careful way to complain of. */
  most: number;
  into: Float64Array;
}

/** As many digits as stay below 2^31 whatever they are. */
const DIGITS_INT = 9;

/**
 * Reads the row that begins at `from` into place `at` of its columns.
 * @param bytes hold a line end at or behind `from`, so that no scan runs past them
 * @returns where the next row begins, or -1 where this one is not plain
 */
export function plainRow(
  bytes: Uint8Array,
  from: number,
  columns: readonly (PlainColumn | null)[],
  delimiter: number,
  at: number,
): number {
  const last = columns.length - 1;
  let p = from;
  for (let field = 0; field <= last; field++) {
    const column = columns[field]!;
    if (column === null) {
      for (let c = bytes[p]!; c !== delimiter && c !== LF && c !== CR; c = bytes[++p]!) if (c === QUOTE) return -1;
    } else {
      const negative = bytes[p] === MINUS;
      if (negative) p++;
      const first = p;
      // Whole numbers of 32 bits: they wrap where there are too many digits, and then they are not used.
      let whole = 0,
        places = 0,
        digit = bytes[p]! ^ ZERO;
      for (; digit < 10; digit = bytes[++p]! ^ ZERO) whole = (whole * 10 + digit) | 0;
      let digits = p - first;
      if (bytes[p] === POINT) {
        const point = p++;
        for (digit = bytes[p]! ^ ZERO; digit < 10; digit = bytes[++p]! ^ ZERO) whole = (whole * 10 + digit) | 0;
        places = p - point - 1;
        digits += places;
      }
      const exponent = column.shift - places;
      if (digits === 0 || digits > DIGITS_EXACT || exponent > POWER_EXACT || exponent < -POWER_EXACT) return -1;
      const mantissa = digits <= DIGITS_INT ? whole : mantissaOf(bytes, first, p);
      const value = exponent < 0 ? mantissa / POWERS[-exponent]! : mantissa * POWERS[exponent]!;
      if (value > column.most) return -1;
      column.into[at] = negative ? -value : value;
    }
    if (field === last && bytes[p] === CR) p++;
    if (bytes[p] !== (field === last ? LF : delimiter)) return -1;
    p++;
  }
  return p;
}

/** Digits with a point among them, as the whole number that they are without it. */
function mantissaOf(bytes: Uint8Array, from: number, to: number): number {
  let mantissa = 0;
  for (let p = from; p < to; p++) if (bytes[p] !== POINT) mantissa = mantissa * 10 + (bytes[p]! - ZERO);
  return mantissa;
}
