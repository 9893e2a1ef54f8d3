// The battery voltage recorded beside the current: at the start, at the end, at its lowest, and how far
// it drops under a load.

import { bisectLeft } from 'd3-array';
import { median } from 'd3-array';
import type { VoltageTrace } from '../../contract/capture.ts';
import type { WakeUp } from '../../contract/findings.ts';

/** A 12 V battery shows a voltage between these; anything else is another system or another input. */
const SANE_V = { low: 8, high: 16.5 };
/** Seconds that the voltage at the start, and that at the end, is the mean of. */
const START_S = 300;
const END_S = 600;
/** Single samples may be wrong: this many of the lowest are skipped. */
const LOWEST_SKIPS = 2;

/** The battery voltage of a night in a few figures. */
export interface Volts {
  /** Mean of the first 5 min, and of the last 10 min. */
  start_V: number;
  end_V: number;
  lowest_V: number;
  median_V: number;
  /** False where this cannot be a 12 V battery. */
  sane: boolean;
  /** Median and range of the chip's temperature; null where none was recorded. */
  temperature_C: { median: number; low: number; high: number } | null;
}

/**
 * Mean of the finite values at times from `from_s` on and before `to_s`; NaN where there are none.
 * O(log n + values within).
 *
 * @param t_s time of each value, ascending
 */
export function meanBetween(t_s: Float64Array, values: Float64Array, from_s: number, to_s: number): number {
  let [sum, seen] = [0, 0];
  for (let i = bisectLeft(t_s, from_s); i < t_s.length && t_s[i]! < to_s; i++) {
    if (!Number.isFinite(values[i]!)) continue;
    sum += values[i]!;
    seen++;
  }
  return seen === 0 ? NaN : sum / seen;
}

/** The figures of a voltage trace; null without one, or where it holds no finite value. O(n log n). */
export function voltsOf(voltage: VoltageTrace | null): Volts | null {
  if (voltage === null) return null;
  const seen = voltage.voltage_V.filter((V) => Number.isFinite(V)).sort();
  if (seen.length === 0) return null;
  const last_s = voltage.t_s[voltage.t_s.length - 1]!;
  const { t_s, voltage_V } = voltage;
  const median_V = seen[seen.length >> 1]!;
  const or = (value: number) => (Number.isFinite(value) ? value : median_V);
  const warm = voltage.temp_C?.filter((C) => Number.isFinite(C)).sort();
  return {
    start_V: or(meanBetween(t_s, voltage_V, t_s[0]!, t_s[0]! + START_S)),
    end_V: or(meanBetween(t_s, voltage_V, last_s - END_S, Infinity)),
    lowest_V: seen[Math.min(LOWEST_SKIPS, seen.length - 1)]!,
    median_V,
    sane: median_V >= SANE_V.low && median_V <= SANE_V.high,
    temperature_C:
      warm === undefined || warm.length === 0
        ? null
        : { median: warm[warm.length >> 1]!, low: warm[0]!, high: warm[warm.length - 1]! },
  };
}

/** Shortest and smallest wake-up that shows a drop: the voltage comes only once a second. */
const LOAD_S = 5;
const LOAD_MA = 400;

/**
 * Source resistance of battery and leads in ohms: the median, over wake-ups of at least 5 s and 400 mA,
 * of the voltage drop over the current. Null where there are none, or no voltage beside them.
 * O(wake-ups x voltage samples in each).
 */
export function sourceOhms(voltage: VoltageTrace | null, wakeups: readonly WakeUp[]): number | null {
  if (voltage === null) return null;
  const found: number[] = [];
  for (const w of wakeups) {
    const length_s = w.end_s - w.start_s;
    const height_mA = (w.charge_mAh * 3600) / length_s;
    if (length_s < LOAD_S || height_mA < LOAD_MA) continue;
    const before_V = meanBetween(voltage.t_s, voltage.voltage_V, w.start_s - 30, w.start_s - 1);
    const under_V = meanBetween(voltage.t_s, voltage.voltage_V, w.start_s + 1, w.end_s - 1);
    const ohms = ((before_V - under_V) * 1000) / height_mA;
    if (Number.isFinite(ohms)) found.push(ohms);
  }
  return found.length === 0 ? null : median(found)!;
}
