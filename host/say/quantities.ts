// How numbers are written in sentences: always with their unit, as many digits as a
// technician wants, and never so few that two different figures read as one.

/** Both ends included. */
interface Range {
  low: number;
  high: number;
}

const HOUR_S = 3600;

function tidy(value: number, decimals: number): string {
  const text = value.toFixed(decimals);
  return Number(text) === 0 ? text.replace('-', '') : text;
}

/** 19 mA, 6.4 mA, 0.35 A as 350 mA, 1.9 A. */
export function current(mA: number): string {
  const size = Math.abs(mA);
  if (size >= 999.5) return `${(mA / 1000).toFixed(size >= 99_950 ? 0 : 1)} A`;
  return `${tidy(mA, size >= 9.95 ? 0 : 1)} mA`;
}

export function time(seconds: number): string {
  if (seconds < 0.9995) return `${Math.max(1, Math.round(seconds * 1000))} ms`;
  if (seconds < 119.5) return `${seconds.toFixed(seconds < 9.95 ? 1 : 0).replace(/\.0$/, '')} s`;
  if (seconds < 9.95 * 60) return `${(seconds / 60).toFixed(1).replace(/\.0$/, '')} min`;
  if (seconds < 120 * 60) return `${Math.round(seconds / 60)} min`;
  return `${(seconds / HOUR_S).toFixed(1)} h`;
}

/** 25.4 mAh, 0.35 mAh, 1.5 Ah. */
export function charge(mAh: number): string {
  const size = Math.abs(mAh);
  if (size >= 999.5) return `${(mAh / 1000).toFixed(size >= 9995 ? 0 : 1)} Ah`;
  return `${tidy(mAh, size >= 99.95 ? 0 : size >= 0.995 ? 1 : 2)} mAh`;
}

export function voltage(V: number): string {
  return `${V.toFixed(2)} V`;
}

/** A whole number that reads at a glance; digits in threes from ten thousand on. */
export function count(n: number): string {
  return n < 10_000 ? String(n) : String(n).replace(/\B(?=(\d{3})+(?!\d))/g, '\u00a0');
}

export function times(n: number): string {
  return n === 1 ? 'once' : n === 2 ? 'twice' : `${count(n)} times`;
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
  for (let decimals = 2; decimals <= 6; decimals++) {
    if (value_mA.toFixed(decimals) !== limit_mA.toFixed(decimals)) return `${value_mA.toFixed(decimals)} mA`;
  }
  return plain;
}

/** Wall-clock minutes where the night has a clock, else `+5:30 h` from its first sample. */
export function clockOf(start_ms: number | null): (t_s: number) => string {
  const two = (n: number) => String(n).padStart(2, '0');
  if (start_ms === null) {
    return (t_s) => {
      const minutes = Math.max(0, Math.floor(t_s / 60));
      return `+${Math.floor(minutes / 60)}:${two(minutes % 60)} h`;
    };
  }
  return (t_s) => {
    const at = new Date(start_ms + t_s * 1000);
    return `${two(at.getHours())}:${two(at.getMinutes())}`;
  };
}
