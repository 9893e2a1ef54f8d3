// What the picture is drawn from, and how the viewer looks at it.

import type { Overview } from '../../host/contract/api.ts';
import type { Findings } from '../../host/contract/findings.ts';
import type { Palette } from './palette.ts';
import type { CurrentScaleKind } from './scales.ts';
import type { MeasureText } from './text.ts';

/** A note that somebody set at an instant. */
export interface Mark {
  t_s: number;
  text: string;
}

export interface NightData {
  /** Wall clock of the first sample, milliseconds since 1970 UTC; null without one. */
  start_ms: number | null;
  duration_s: number;
  findings: Findings;
  /** The whole night, coarse. */
  whole: Overview;
  /** A part of it, finer; used where it covers all that is looked at. */
  detail: Overview | null;
  marks: Mark[];
}

export interface View {
  from_s: number;
  to_s: number;
  scale: CurrentScaleKind;
  /** The event looked at, by its id of `events.ts`. */
  selected: string | null;
}

/** What the drawing surface is like. */
export interface Surface {
  width: number;
  height: number;
  palette: Palette;
  measure: MeasureText;
  fontFamily: string;
  /** Size of the plainest text in px; 11 to 14. */
  text_px: number;
}

/** Width of one bin. */
export function binWidth_s(bins: Overview): number {
  return (bins.to_s - bins.from_s) / Math.max(1, bins.mean_mA.length);
}

/** The finest bins that cover the view. */
export function binsFor(data: NightData, view: View): Overview {
  const { detail } = data;
  const slack_s = (view.to_s - view.from_s) * 1e-6;
  const covers = detail !== null && detail.from_s <= view.from_s + slack_s && detail.to_s >= view.to_s - slack_s;
  return covers && binWidth_s(detail) <= binWidth_s(data.whole) ? detail : data.whole;
}

/** Indices [first, end) of the bins that touch a stretch of time. */
export function binsWithin(bins: Overview, from_s: number, to_s: number): [number, number] {
  const width_s = binWidth_s(bins);
  const first = Math.max(0, Math.floor((from_s - bins.from_s) / width_s));
  const end = Math.min(bins.mean_mA.length, Math.ceil((to_s - bins.from_s) / width_s));
  return [Math.min(first, end), end];
}
