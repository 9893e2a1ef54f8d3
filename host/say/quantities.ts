// How numbers are written for a person, on every screen, in the report and in notices. One
// policy: always with the unit, as many digits as a workshop needs and a clamp meter shows,
// the same figure written the same way everywhere, a true minus sign (U+2212).
//   current   0.35 mA, 6.4 mA, 19 mA, 463 mA, 1.9 A, 120 A
//   charge    6.7 µAh, 0.35 mAh, 25.4 mAh, 850 mAh, 1.5 Ah
//   time      120 ms, 4.2 s, 95 s, 2 min 30 s, 34 min, 9 h 30 min
//   voltage   12.64 V
// Only what is read off by a pointer or stands large and live has three digits (`reading`).

const MINUS = '\u2212';
const NBSP = '\u00a0';

/** Both ends included. */
interface Range {
  low: number;
  high: number;
}

function digits(value: number, decimals: number): string {
  const text = Math.abs(value).toFixed(decimals);
  return value < 0 && Number(text) !== 0 ? MINUS + text : text;
}

/** @param mA any finite current */
export function current(mA: number): string {
  const size = Math.abs(mA);
  if (size >= 999.5) return `${digits(mA / 1000, size >= 99_950 ? 0 : 1)} A`;
  return `${digits(mA, size >= 9.95 || size === 0 ? 0 : size >= 0.995 ? 1 : 2)} mA`;
}

/** Three significant digits, at most three decimals: `19.2 mA`, `320 mA`, `2.80 A`, for what is read off. */
export function reading(mA: number): string {
  const [value, unit] = Math.abs(mA) >= 999.5 ? [mA / 1000, 'A'] : [mA, 'mA'];
  const size = Math.abs(value);
  return `${digits(value, size === 0 || size >= 99.95 ? 0 : size >= 9.995 ? 1 : size >= 0.9995 ? 2 : 3)} ${unit}`;
}

/** A current with its sign always shown: `+463 mA`. */
export function change(mA: number): string {
  const text = current(mA);
  return text.startsWith(MINUS) ? text : `+${text}`;
}

/** The number of an axis: no digits that say nothing. `100 mA`, `1 A`, `0`. */
export function axisCurrent(mA: number): string {
  if (mA === 0) return '0';
  const [value, unit] = Math.abs(mA) >= 1000 ? [mA / 1000, 'A'] : [mA, 'mA'];
  return `${value < 0 ? MINUS : ''}${Number(Math.abs(value).toPrecision(6))} ${unit}`;
}

/** Below 0.1 mAh in µAh, since two decimals would say nothing. */
export function charge(mAh: number): string {
  const size = Math.abs(mAh);
  if (size >= 999.5) return `${digits(mAh / 1000, size >= 9995 ? 0 : 1)} Ah`;
  if (size < 5e-7) return '0 mAh';
  if (size < 0.0995) return `${digits(mAh * 1000, size >= 0.00995 ? 0 : 1)} µAh`;
  return `${digits(mAh, size >= 99.95 ? 0 : size >= 0.995 ? 1 : 2)} mAh`;
}

/** A length of time. Seconds below two minutes, tens of them beside minutes below ten, minutes below two hours. */
export function time(s: number): string {
  const sign = s < 0 ? MINUS : '';
  const size = Math.abs(s);
  if (size === 0) return '0 s';
  if (size < 0.9995) return `${sign}${Number((size * 1000).toFixed(size < 0.00995 ? 1 : 0))} ms`;
  if (size < 119.5) return `${sign}${Number(size.toFixed(size < 9.95 ? 1 : 0))} s`;
  const seconds = 10 * Math.round(size / 10);
  if (seconds < 600) return sign + parts(Math.floor(seconds / 60), 'min', seconds % 60, 's');
  const minutes = Math.round(size / 60);
  return sign + (minutes < 120 ? `${minutes} min` : parts(Math.floor(minutes / 60), 'h', minutes % 60, 'min'));
}

/** How long something may take: tens of seconds below a minute and a half, then minutes. */
export const roughly = (s: number): string =>
  s < 90 ? `${Math.max(10, Math.round(s / 10) * 10)} s` : `${Math.round(s / 60)} min`;

const parts = (whole: number, unit: string, rest: number, small: string) =>
  rest === 0 ? `${whole} ${unit}` : `${whole} ${unit} ${rest} ${small}`;

export function voltage(V: number): string {
  return `${digits(V, 2)} V`;
}

/** A whole number that reads at a glance; digits in threes from ten thousand on. */
export function count(n: number): string {
  return n < 10_000 ? String(n) : String(n).replace(/\B(?=(\d{3})+(?!\d))/g, NBSP);
}

/** `1 step`, `2 steps`, `10 000 wake-ups`. */
export function counted(n: number, one: string, many = `${one}s`): string {
  return `${count(n)} ${n === 1 ? one : many}`;
}

export function times(n: number): string {
  return n === 1 ? 'once' : n === 2 ? 'twice' : `${count(n)} times`;
}

/** A period that comes by chance more often than this says so. */
const DOUBTED = 0.001;

/** `chance gives such a period once in 250`; empty where it is surely one, or none is told. */
export const doubtOf = (chance: number | null): string =>
  chance === null || chance <= DOUBTED ? '' : `chance gives such a period once in ${count(Math.round(1 / chance))}`;

/** `every 34 min`, with the doubt in brackets where there is one. */
export function every(period_s: number, chance: number | null): string {
  const doubt = doubtOf(chance);
  return `every ${time(period_s)}${doubt === '' ? '' : ` (${doubt})`}`;
}

/** Days in whole ones, half ones below four: no battery is known better. */
export function dayCount(days: number): number {
  return days < 4 ? Math.round(days * 2) / 2 : days < 40 ? Math.round(days) : Number(days.toPrecision(2));
}

export function days(n: number): string {
  return `${n} ${n === 1 ? 'day' : 'days'}`;
}

/** `12 to 21 days`, `12 days`. */
export function dayRange({ low, high }: Range): string {
  const [a, b] = [dayCount(low), dayCount(high)];
  return a === b ? days(a) : `${a} to ${days(b)}`;
}

/** `70 to 85 %`. */
export function percentRange({ low, high }: Range): string {
  const [a, b] = [Math.round(low), Math.round(high)];
  return a === b ? `${a} %` : `${a} to ${b} %`;
}

/** Of two figures that round to the same, more digits, so that "x is over y" never reads "50 over 50". */
export function against(value_mA: number, limit_mA: number): string {
  const plain = current(value_mA);
  if (plain !== current(limit_mA) || value_mA === limit_mA) return plain;
  for (let decimals = 1; decimals <= 6; decimals++) {
    if (value_mA.toFixed(decimals) !== limit_mA.toFixed(decimals)) return `${value_mA.toFixed(decimals)} mA`;
  }
  return plain;
}

/** Keeps numbers on the line of their units. */
export function unbroken(sentence: string): string {
  return sentence.replace(
    /(\d) (?=(?:[mµ]?A|[mµ]?Ah|m?V|[mµ]?Ω|[mµ]?s|min|h|days?|%|°C|to [\d\u2212])(?![a-z]))/g,
    `$1${NBSP}`,
  );
}
