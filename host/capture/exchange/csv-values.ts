// Numbers and times of a CSV, read from its bytes. Exact: a printed number
// becomes the double nearest to it, also where its unit is changed on the way.

/** Decimal digits that a double's 53 bits always hold. */
export const DIGITS_EXACT = 15;

/** Powers of ten up to this are doubles without rounding, so that one division or product rounds once. */
export const POWER_EXACT = 22;

export const POWERS = Float64Array.from({ length: POWER_EXACT + 1 }, (_, i) => Number(`1e${i}`));

/**
 * Reads the number in bytes [from, to), blanks around it set aside, times 10^shift.
 * @param comma whether a decimal comma is allowed beside the point
 * @returns NaN where it is not one number and nothing else
 */
export function parseNumber(bytes: Uint8Array, from: number, to: number, shift: number, comma: boolean): number {
  let p = from,
    end = to;
  while (p < end && (bytes[p] === 32 || bytes[p] === 9)) p++;
  while (end > p && (bytes[end - 1] === 32 || bytes[end - 1] === 9)) end--;
  const start = p;
  const negative = bytes[p] === 45;
  if (negative || bytes[p] === 43) p++;
  let mantissa = 0,
    digits = 0,
    significant = 0,
    fraction = -1;
  for (; p < end; p++) {
    const c = bytes[p]!;
    if (c >= 48 && c <= 57) {
      mantissa = mantissa * 10 + (c - 48);
      digits++;
      if (mantissa > 0) significant++;
      if (fraction >= 0) fraction++;
    } else if ((c === 46 || (c === 44 && comma)) && fraction < 0) fraction = 0;
    else break;
  }
  if (digits === 0) return NaN;
  let exponent = shift - Math.max(fraction, 0);
  if (p < end) {
    const written = parseExponent(bytes, p, end);
    if (Number.isNaN(written)) return NaN;
    exponent += written;
  }
  if (significant > DIGITS_EXACT || exponent > POWER_EXACT || exponent < -POWER_EXACT)
    return parseLong(bytes, start, end, shift);
  const value = exponent < 0 ? mantissa / POWERS[-exponent]! : mantissa * POWERS[exponent]!;
  return negative ? -value : value;
}

function parseExponent(bytes: Uint8Array, from: number, end: number): number {
  if ((bytes[from]! | 32) !== 101) return NaN;
  let p = from + 1;
  const negative = bytes[p] === 45;
  if (negative || bytes[p] === 43) p++;
  if (p === end || end - p > 4) return NaN;
  let value = 0;
  for (; p < end; p++) {
    const c = bytes[p]!;
    if (c < 48 || c > 57) return NaN;
    value = value * 10 + (c - 48);
  }
  return negative ? -value : value;
}

/** The rare long way: more digits than the short one keeps exact. The form is checked already. */
function parseLong(bytes: Uint8Array, from: number, end: number, shift: number): number {
  const text = Buffer.from(bytes.subarray(from, end)).toString('latin1').replace(',', '.');
  const [mantissa, exponent] = text.toLowerCase().split('e');
  return Number(`${mantissa}e${Number(exponent ?? 0) + shift}`);
}

/** A moment: whole seconds since 1970 UTC, and the nanoseconds after them. */
export interface Moment {
  seconds: number;
  nanos: number;
}

// ISO 8601-1 calendar date and time of day, extended or basic form, comma or point
// before the fraction (5.4.2.1, 4.2.2.4 of the 2004 edition, from memory); a blank
// for the T as RFC 3339 section 5.6 allows.
const ISO_TIME = /^(\d{4})-?(\d\d)-?(\d\d)[T ](\d\d):?(\d\d)(?::?(\d\d)(?:[.,](\d+))?)?\s?(Z|[+-]\d\d(?::?\d\d)?)?$/i;

/**
 * Reads an ISO 8601 date and time.
 * @param localOffset_min minutes east of UTC to use where the text states no zone
 * @returns null where it is none
 */
export function parseTime(text: string, localOffset_min: (seconds: number) => number): Moment | null {
  const parts = ISO_TIME.exec(text);
  if (parts === null) return null;
  const [year, month, day, hour, minute, second] = parts.slice(1, 7).map((part) => Number(part ?? 0)) as [
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  const midnight = Date.UTC(year, month - 1, day);
  const date = new Date(midnight);
  if (date.getUTCMonth() !== month - 1 || date.getUTCDate() !== day || year < 1000) return null;
  if (hour > 23 || minute > 59 || second > 60) return null;
  const asWritten = midnight / 1000 + hour * 3600 + minute * 60 + second;
  const nanos = Number((parts[7] ?? '').slice(0, 9).padEnd(9, '0'));
  const zone = parts[8];
  const offset_min = zone === undefined ? localOffset_min(asWritten) : zoneOffset_min(zone);
  return { seconds: asWritten - offset_min * 60, nanos };
}

function zoneOffset_min(zone: string): number {
  if (zone.toUpperCase() === 'Z') return 0;
  const digits = zone.replace(/\D/g, '').padEnd(4, '0');
  const size = Number(digits.slice(0, 2)) * 60 + Number(digits.slice(2));
  return zone.startsWith('-') ? -size : size;
}

/** Minutes east of UTC of this computer's zone at a time written without zone. */
export function computersOffset_min(asWritten_s: number): number {
  const d = new Date(asWritten_s * 1000);
  const local = new Date(
    d.getUTCFullYear(),
    d.getUTCMonth(),
    d.getUTCDate(),
    d.getUTCHours(),
    d.getUTCMinutes(),
    d.getUTCSeconds(),
  );
  return -local.getTimezoneOffset();
}
