// From seconds and milliamperes to pixels. The logarithmic scale is even (linear)
// within 1 mA of zero, so that zero and charging currents have their place.

import { nice as niceStep, scaleLinear, scaleSymlog, ticks as linearTicks } from 'd3';

export type CurrentScaleKind = 'log' | 'linear';

/** Below this size the logarithmic scale is even. */
export const EVEN_BELOW_MA = 1;

/** A scale: value to px. `invert` goes back. */
export interface Scale {
  (value: number): number;
  invert(px: number): number;
}

export function timeScale(from_s: number, to_s: number, left_px: number, right_px: number): Scale {
  return scaleLinear([from_s, to_s], [left_px, right_px]);
}

export interface CurrentRange {
  low_mA: number;
  high_mA: number;
}

/** Extends what is shown so that the ground is in sight and the tallest part has air above it. */
export function currentRange(kind: CurrentScaleKind, low_mA: number, high_mA: number): CurrentRange {
  const low = Number.isFinite(low_mA) ? low_mA : 0;
  const high = Number.isFinite(high_mA) ? Math.max(high_mA, low) : 1;
  if (kind === 'linear') {
    const floor = Math.min(0, low);
    const [from, to] = niceStep(floor < 0 ? floor * 1.05 : 0, Math.max(high + (high - floor) * 0.12, floor + 1), 10);
    return { low_mA: from, high_mA: to };
  }
  return { low_mA: roundedDown(low), high_mA: Math.max(high * 1.6, EVEN_BELOW_MA * 5, roundedDown(low) * 4) };
}

/** The largest of 1, 2, 5 times a power of ten that is at most half of a value; 0 or below near zero. */
function roundedDown(value_mA: number): number {
  if (value_mA < 0) return value_mA * 1.6;
  if (value_mA < 2 * EVEN_BELOW_MA) return 0;
  const half = value_mA / 2;
  const decade = 10 ** Math.floor(Math.log10(half));
  return (half >= 5 * decade ? 5 : half >= 2 * decade ? 2 : 1) * decade;
}

export function currentScale(kind: CurrentScaleKind, range: CurrentRange, bottom_px: number, top_px: number): Scale {
  const domain: [number, number] = [range.low_mA, range.high_mA];
  return kind === 'log'
    ? scaleSymlog(domain, [bottom_px, top_px]).constant(EVEN_BELOW_MA)
    : scaleLinear(domain, [bottom_px, top_px]);
}

/** Round values of the current axis, at least `apart_px` from each other, ascending. */
export function currentTicks(kind: CurrentScaleKind, range: CurrentRange, scale: Scale, apart_px: number): number[] {
  if (kind === 'linear') {
    const room = Math.abs(scale(range.high_mA) - scale(range.low_mA)) / apart_px;
    return linearTicks(range.low_mA, range.high_mA, Math.max(1, Math.min(8, Math.floor(room / 1.6))));
  }
  const kept: number[] = [];
  for (const value of logCandidates()) {
    if (value < range.low_mA || value > range.high_mA) continue;
    if (kept.every((other) => Math.abs(scale(other) - scale(value)) >= apart_px)) kept.push(value);
  }
  return kept.sort((a, b) => a - b);
}

/** Zero, then decades, then fives and twos: the plainest first. */
function logCandidates(): number[] {
  const signed = (values: number[]) => values.flatMap((value) => [value, -value]);
  const decades = [1, 10, 100, 1000, 10_000, 100_000, 1_000_000];
  return [0, ...signed(decades), ...signed(decades.map((d) => d * 5)), ...signed(decades.map((d) => d * 2))];
}
