// How numbers are written: always with their unit, three significant digits, and a
// true minus sign (U+2212).

import { timeFormat } from 'd3';

const MINUS = '\u2212';

function digits(value: number, decimals: number): string {
  const text = Math.abs(value).toFixed(decimals);
  return value < 0 && Number(text) !== 0 ? MINUS + text : text;
}

/** Three significant digits, at most three decimals. */
function significant(value: number): string {
  if (value === 0) return '0';
  const size = Math.abs(value);
  return digits(value, size >= 99.95 ? 0 : size >= 9.995 ? 1 : size >= 0.9995 ? 2 : 3);
}

/** `19.2 mA`, `320 mA`, `2.80 A`. */
export function current(value_mA: number): string {
  return Math.abs(value_mA) >= 999.5 ? `${significant(value_mA / 1000)} A` : `${significant(value_mA)} mA`;
}

/** As `current`, with its sign always shown. */
export function change(value_mA: number): string {
  const text = current(value_mA);
  return text.startsWith(MINUS) ? text : `+${text}`;
}

/** `1.30 mAh`, `850 mAh`, `1.20 Ah`; below 0.1 mAh `6.69 µAh`, since three decimals would say nothing. */
export function charge(value_mAh: number): string {
  const size = Math.abs(value_mAh);
  if (size < 0.1) return size < 5e-7 ? '0 mAh' : `${significant(value_mAh * 1000)} µAh`;
  return Math.abs(value_mAh) >= 999.5 ? `${significant(value_mAh / 1000)} Ah` : `${significant(value_mAh)} mAh`;
}

/** The number of an axis: no digits that say nothing. `100 mA`, `1 A`, `0`. */
export function axisCurrent(value_mA: number): string {
  if (value_mA === 0) return '0';
  const [value, unit] = Math.abs(value_mA) >= 1000 ? [value_mA / 1000, 'A'] : [value_mA, 'mA'];
  return `${value < 0 ? MINUS : ''}${Number(Math.abs(value).toPrecision(6))} ${unit}`;
}

const two = (value: number) => String(value).padStart(2, '0');

/** A length of time: `120 ms`, `4.2 s`, `48 s`, `12 min`, `12 min 30 s`, `9 h 02 min`. */
export function duration(value_s: number): string {
  const sign = value_s < 0 ? MINUS : '';
  const size = Math.abs(value_s);
  if (size === 0) return '0 s';
  if (size < 0.9995) return `${sign}${Number((size * 1000).toPrecision(3))} ms`;
  if (size < 9.95) return `${sign}${Number(size.toFixed(1))} s`;
  const seconds = Math.round(size);
  if (seconds < 60) return `${sign}${seconds} s`;
  if (seconds < 3600) {
    const rest = seconds % 60;
    return `${sign}${Math.floor(seconds / 60)} min${rest === 0 ? '' : ` ${two(rest)} s`}`;
  }
  const minutes = Math.round(size / 60);
  return `${sign}${Math.floor(minutes / 60)} h ${two(minutes % 60)} min`;
}

/** A length of time without what nobody asks for: seconds only below ten minutes. */
export function roughDuration(value_s: number): string {
  return Math.abs(value_s) < 600 ? duration(value_s) : duration(Math.round(value_s / 60) * 60);
}

const clockMinutes = timeFormat('%H:%M');
const clockSeconds = timeFormat('%H:%M:%S');
const dayAndMonth = timeFormat('%a %-d %b');

/** `+45 s`, `+25 min`, `+2:30 h`: as exact as minutes of a clock, but the first minute keeps its seconds. */
function sinceStart(t_s: number): string {
  const seconds = Math.max(0, Math.round(t_s));
  if (seconds < 60) return `+${seconds} s`;
  const minutes = Math.round(t_s / 60);
  return minutes < 60 ? `+${minutes} min` : `+${Math.floor(minutes / 60)}:${two(minutes % 60)} h`;
}

function sinceStartExactly(t_s: number): string {
  const seconds = Math.max(0, Math.round(t_s));
  return `+${Math.floor(seconds / 3600)}:${two(Math.floor((seconds % 3600) / 60))}:${two(seconds % 60)} h`;
}

/** Instants of a trace in words: by the clock of this machine, or since the start where the trace has no clock. */
export interface TimeWords {
  minutes(t_s: number): string;
  seconds(t_s: number): string;
  /** `Wed 25 Nov`, or null without a clock. */
  date(t_s: number): string | null;
}

export function timeWords(start_ms: number | null): TimeWords {
  if (start_ms === null) {
    return { minutes: sinceStart, seconds: sinceStartExactly, date: () => null };
  }
  const at = (t_s: number) => new Date(start_ms + t_s * 1000);
  return {
    minutes: (t_s) => clockMinutes(at(t_s)),
    seconds: (t_s) => clockSeconds(at(t_s)),
    date: (t_s) => dayAndMonth(at(t_s)),
  };
}

/** A count with its thousands apart from 10 000 on. */
export function grouped(count: number): string {
  return count < 10_000 ? String(count) : String(count).replace(/\B(?=(\d{3})+(?!\d))/g, '\u00a0');
}

/** `1 step`, `2 steps`, `10 000 wake-ups`. */
export function counted(count: number, one: string, many = `${one}s`): string {
  return `${grouped(count)} ${count === 1 ? one : many}`;
}

/** Keeps numbers on the line of their units. */
export function unbroken(sentence: string): string {
  return sentence.replace(/(\d) (?=(mA|A|mAh|µAh|Ah|ms|s|min|h|d|%)(?![a-z]))/gi, '$1\u00a0');
}
