// Members of a family laid over each other from their start, and their mean: what they
// have in common is seen at once, and the one that differs. Pure.

import { line } from 'd3';
import type { Surface } from './data.ts';
import { current, duration } from './format.ts';
import { currentRange, currentScale, timeScale } from './scales.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

/** One member in bins of equal width; null where there is no sample. All members have as many bins. */
export type Member = readonly (number | null)[];

const FOOT_PX = 20;
const HEAD_PX = 8;

/** Mean of each bin over the members that have one there. */
export function meanOfMembers(members: readonly Member[]): (number | null)[] {
  return (members[0] ?? []).map((_, i) => {
    const seen = members.flatMap((member) => (member[i] === null || member[i] === undefined ? [] : [member[i]]));
    return seen.length === 0 ? null : seen.reduce((a, b) => a + b, 0) / seen.length;
  });
}

/**
 * @param before_s how long before their start the members' bins begin
 * @param length_s how long the bins go on in all
 */
export function drawOverlay(members: readonly Member[], before_s: number, length_s: number, surface: Surface): Shape {
  const { width, height, palette, text_px, fontFamily } = surface;
  const all = members.flat().filter((value) => value !== null);
  const top_mA = Math.max(1, ...all);
  const left = Math.ceil(surface.measure(current(top_mA), text_px, false)) + 10;
  const x = timeScale(-before_s, length_s - before_s, left, width - 8);
  const range = currentRange('linear', Math.min(0, ...all), top_mA);
  const y = currentScale('linear', range, height - FOOT_PX, HEAD_PX);
  const count = Math.max(1, members[0]?.length ?? 1);
  const path = (member: Member) => line<number | null>((_, i) => x(-before_s + ((i + 0.5) / count) * length_s), (value) => y(value ?? 0)).defined((value) => value !== null)([...member]) ?? '';
  const text = (at: number, y_px: number, anchor: string, words: string) =>
    shape('text', { x: at, y: y_px, 'font-size': text_px, 'text-anchor': anchor, fill: palette.softInk }, [words]);
  const end_s = length_s - 2 * before_s;
  return shape('svg', { xmlns: 'http://www.w3.org/2000/svg', width, height, viewBox: `0 0 ${width} ${height}`, 'font-family': fontFamily, 'aria-hidden': 'true' }, [
    shape('rect', { x: left, y: HEAD_PX, width: width - 8 - left, height: height - FOOT_PX - HEAD_PX, fill: palette.sheet }),
    shape('line', { x1: left, x2: width - 8, y1: y(0), y2: y(0), stroke: palette.softInk, 'stroke-width': 1 }),
    shape('line', { x1: left, x2: width - 8, y1: y(top_mA), y2: y(top_mA), stroke: palette.hairline, 'stroke-width': 1 }),
    ...members.map((member) => shape('path', { d: path(member), fill: 'none', stroke: palette.wakeBand, 'stroke-width': 1, 'stroke-opacity': 0.45, 'data-part': 'member' })),
    shape('path', { d: path(meanOfMembers(members)), fill: 'none', stroke: palette.wake, 'stroke-width': 2, 'data-part': 'members-mean' }),
    text(left - 6, y(top_mA) + text_px * 0.36, 'end', current(top_mA)),
    text(left - 6, y(0) + text_px * 0.36, 'end', '0'),
    text(x(0), height - 5, 'start', 'start'),
    text(x(end_s), height - 5, 'end', duration(end_s)),
  ]);
}
