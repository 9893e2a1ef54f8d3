// What the battery voltage beside the current tells: at the start, at the end, at its
// lowest, and how far it gives way under a load. O(voltage samples).

import { bisectLeft } from 'd3-array';
import { median } from 'd3-array';
import type { VoltageTrace } from '../../contract/capture.ts';
import type { WakeUp } from '../../contract/findings.ts';

/** A 12 V battery shows between these; anything else is another system or another input. */
const SANE_V = { low: 8, high: 16.5 };
const START_S = 300;
const END_S = 600;
/** A single sample may be wrong: the lowest is the lowest but so many. */
const LOWEST_SKIPS = 2;

export interface Volts {
  start_V: number;
  end_V: number;
  lowest_V: number;
  median_V: number;
  /** False where it is no 12 V battery. */
  sane: boolean;
  /** Median of the chip's temperature and its range; null where there is none. */
  temperature_C: { median: number; low: number; high: number } | null;
}

/** Mean of what lies within, NaN where nothing does. */
export function meanBetween(t_s: Float64Array, values: Float64Array, from_s: number, to_s: number): number {
  let [sum, seen] = [0, 0];
  for (let i = bisectLeft(t_s, from_s); i < t_s.length && t_s[i]! < to_s; i++) {
    if (!Number.isFinite(values[i]!)) continue;
    sum += values[i]!;
    seen++;
  }
  return seen === 0 ? NaN : sum / seen;
}

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

/** Wake-ups too short or too small say nothing: the voltage comes once a second. */
const LOAD_S = 5;
const LOAD_MA = 400;

/** Ohms by which the battery gives way under its own wake-ups, median; null where none is long and large enough. */
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
