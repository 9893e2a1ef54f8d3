// Ticks of the time axis: by the wall clock of this machine where the trace has one,
// so that midnight, and the hour that daylight saving takes or gives, stand where they fell.

import { timeDay, timeFormat, timeHour, timeMinute, timeSecond } from 'd3';
import type { CountableTimeInterval, TimeInterval } from 'd3';

export interface ClockTick {
  t_s: number;
  label: string;
  midnight: boolean;
}

/** The clocks were moved: `by_s` is positive where they went forward. */
export interface ClockChange {
  t_s: number;
  by_s: number;
}

interface Pace {
  s: number;
  every: TimeInterval | null;
  format: string;
}

const pace = (unit: CountableTimeInterval, unit_s: number, n: number, format: string): Pace => ({
  s: unit_s * n,
  every: unit.every(n),
  format,
});

/** From fine to coarse. */
const PACES: Pace[] = [
  ...[1, 2, 5, 10, 15, 30].map((n) => pace(timeSecond, 1, n, '%H:%M:%S')),
  ...[1, 2, 5, 10, 15, 30].map((n) => pace(timeMinute, 60, n, '%H:%M')),
  ...[1, 2, 3, 6, 12].map((n) => pace(timeHour, 3600, n, '%H:%M')),
  ...[1, 2, 5, 10].map((n) => pace(timeDay, 86_400, n, '%-d %b')),
];

/** The finest pace whose ticks are at least `apart_s` apart. */
function paceFor(apart_s: number): Pace {
  return PACES.find((p) => p.s >= apart_s) ?? PACES.at(-1)!;
}

/**
 * Ticks from `from_s` to `to_s`, none nearer to the last than `apart_s`.
 * Without a clock they count from the start.
 */
export function clockTicks(start_ms: number | null, from_s: number, to_s: number, apart_s: number): ClockTick[] {
  const chosen = paceFor(apart_s);
  if (start_ms === null) return elapsedTicks(chosen.s, from_s, to_s);
  const format = timeFormat(chosen.format);
  const ticks: ClockTick[] = [];
  // The end is included; d3's range leaves it out.
  const dates = chosen.every?.range(new Date(start_ms + from_s * 1000), new Date(start_ms + to_s * 1000 + 1)) ?? [];
  for (const date of dates) {
    const t_s = (date.getTime() - start_ms) / 1000;
    const midnight = date.getHours() === 0 && date.getMinutes() === 0 && date.getSeconds() === 0;
    const last = ticks.at(-1);
    // On the night that the clocks go back an hour comes twice: its second tick may be too near.
    // The slack is for seconds that are no whole numbers: two ticks an hour apart may differ by 3599.9999999 s.
    if (last !== undefined && t_s - last.t_s < apart_s - 1e-3) continue;
    ticks.push({ t_s, label: format(date), midnight });
  }
  return ticks;
}

function elapsedTicks(step_s: number, from_s: number, to_s: number): ClockTick[] {
  const ticks: ClockTick[] = [];
  for (let i = Math.ceil(from_s / step_s); i * step_s <= to_s; i++) {
    const t_s = i * step_s;
    ticks.push({ t_s, label: elapsedLabel(t_s, step_s), midnight: false });
  }
  return ticks;
}

function elapsedLabel(t_s: number, step_s: number): string {
  const two = (value: number) => String(value).padStart(2, '0');
  const h = Math.floor(t_s / 3600);
  if (step_s >= 3600) return `${h} h`;
  const m = Math.floor((t_s % 3600) / 60);
  return step_s >= 60 ? `${h}:${two(m)} h` : `${h}:${two(m)}:${two(Math.round(t_s % 60))}`;
}

/** Midnights within a stretch of time, in seconds from the start. */
export function midnights(start_ms: number | null, from_s: number, to_s: number): number[] {
  if (start_ms === null) return [];
  return timeDay
    .range(new Date(start_ms + from_s * 1000), new Date(start_ms + to_s * 1000 + 1))
    .map((date) => (date.getTime() - start_ms) / 1000);
}

/** Where the clocks of this machine's zone were moved, found by halving from hour to hour. */
export function clockChanges(start_ms: number | null, from_s: number, to_s: number): ClockChange[] {
  if (start_ms === null) return [];
  const offset_min = (t_s: number) => -new Date(start_ms + t_s * 1000).getTimezoneOffset();
  const changes: ClockChange[] = [];
  for (let t_s = from_s; t_s < to_s; t_s += 3600) {
    let before_s = t_s;
    let after_s = Math.min(t_s + 3600, to_s);
    const by_s = (offset_min(after_s) - offset_min(before_s)) * 60;
    if (by_s === 0) continue;
    const old_min = offset_min(before_s);
    while (after_s - before_s > 0.5) {
      const middle_s = (before_s + after_s) / 2;
      if (offset_min(middle_s) === old_min) before_s = middle_s;
      else after_s = middle_s;
    }
    // Clocks move on whole minutes of UTC.
    const at_ms = Math.round((start_ms + after_s * 1000) / 60_000) * 60_000;
    changes.push({ t_s: (at_ms - start_ms) / 1000, by_s });
  }
  return changes;
}
