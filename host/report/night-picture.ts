// The night for print: the page's own chart, on white.

import type { Overview } from '../contract/api.ts';
import { drawCompare } from '../../web/chart/compare.ts';
import { drawPicture } from '../../web/chart/picture.ts';
import type { Mark } from '../../web/chart/data.ts';
import { LIGHT } from '../../web/chart/palette.ts';
import type { MeasureText } from '../../web/chart/text.ts';
import type { Shape } from '../../web/chart/tree.ts';
import type { NightMeaning } from '../analysis/meaning/interpret.ts';
import type { BeforeSource } from './source.ts';
import { FONT_FAMILY } from './fonts.ts';

export const PRINT = { ...LIGHT, paper: '#ffffff', sheet: '#ffffff', hour: '#f3f3f1' };

/** Bins across the picture: about two for each dot of a printer's line at this width. */
export const BINS = 1400;

/** The labelled picture, `width` by `height` px, as an svg element. */
export function drawNight(
  night: NightMeaning,
  whole: Overview,
  marks: Mark[],
  width: number,
  height: number,
  measure: MeasureText,
): Shape {
  const duration_s = night.trace.duration_s;
  const start_ms = night.trace.start === null ? null : Date.parse(night.trace.start);
  return drawPicture(
    { start_ms, duration_s, findings: night, whole, detail: null, marks },
    { from_s: 0, to_s: duration_s, scale: 'log', selected: null },
    { width, height, palette: PRINT, measure, fontFamily: FONT_FAMILY, text_px: 11 },
  ).svg;
}

/** Both nights on one axis, where both fall asleep. */
export function drawCompared(
  before: BeforeSource,
  night: NightMeaning,
  whole: Overview,
  width: number,
  height: number,
  measure: MeasureText,
): Shape {
  return drawCompare(
    [
      { name: 'before', whole: before.whole, after_s: before.after_s },
      { name: 'after', whole, after_s: night.asleep?.after_s ?? null },
    ],
    'asleep',
    night.allowance.mA,
    { width, height, palette: PRINT, measure, fontFamily: FONT_FAMILY, text_px: 11 },
  );
}
