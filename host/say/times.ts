// Instants of a trace in words: by the clock of this computer where the trace has a start, else
// since its first sample. Not by the language's own dates, which load the languages of the world.

const DAYS = ['Sun', 'Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat'];
const MONTHS = [
  'January',
  'February',
  'March',
  'April',
  'May',
  'June',
  'July',
  'August',
  'September',
  'October',
  'November',
  'December',
];

const two = (value: number) => String(value).padStart(2, '0');

/** Each takes seconds from the first sample. */
export interface TimeWords {
  /** `22:30`; without a clock `+45 s`, `+25 min`, `+2:30 h`. */
  readonly minutes: (t_s: number) => string;
  /** `22:30:05`; without a clock `+2:30:05 h`. */
  readonly seconds: (t_s: number) => string;
  /** `Wed 25 Nov`, or null without a clock. */
  readonly date: (t_s: number) => string | null;
  /** `Wed 25 November 2026`, or null without a clock. */
  readonly fullDate: (t_s: number) => string | null;
}

/** @param start_ms wall clock of the first sample, milliseconds since 1970 UTC; null where the trace has none */
export function timeWords(start_ms: number | null): TimeWords {
  if (start_ms === null)
    return { minutes: sinceStart, seconds: sinceStartExactly, date: () => null, fullDate: () => null };
  const at = (t_s: number) => new Date(start_ms + t_s * 1000);
  return {
    minutes: (t_s) => clock(at(t_s)),
    seconds: (t_s) => `${clock(at(t_s))}:${two(at(t_s).getSeconds())}`,
    date: (t_s) => `${DAYS[at(t_s).getDay()]} ${at(t_s).getDate()} ${MONTHS[at(t_s).getMonth()]!.slice(0, 3)}`,
    fullDate: (t_s) =>
      `${DAYS[at(t_s).getDay()]} ${at(t_s).getDate()} ${MONTHS[at(t_s).getMonth()]} ${at(t_s).getFullYear()}`,
  };
}

const clock = (at: Date) => `${two(at.getHours())}:${two(at.getMinutes())}`;

/** As exact as minutes of a clock, but the first minute keeps its seconds. */
function sinceStart(t_s: number): string {
  const seconds = Math.max(0, Math.round(t_s));
  if (seconds < 60) return `+${seconds} s`;
  const minutes = Math.round(t_s / 60);
  return minutes < 60 ? `+${minutes} min` : `+${Math.floor(minutes / 60)}:${two(minutes % 60)} h`;
}

function sinceStartExactly(t_s: number): string {
  const seconds = Math.max(0, Math.round(t_s));
  return `+${Math.floor(seconds / 3600)}:${two(Math.floor(seconds / 60) % 60)}:${two(seconds % 60)} h`;
}
