// The wake-ups of one family laid over each other, from the moment at which each
// begins, and their mean. Pure.

import type { Overview } from '../../host/contract/api.ts';
import { axisCurrent, time } from '../../host/say/quantities.ts';
import { line } from 'd3';
import type { Surface } from './data.ts';
import { binWidth_s } from './data.ts';
import { currentRange, currentScale, timeScale } from './scales.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

interface Point {
  /** Seconds from the beginning of the stretch. */
  t_s: number;
  mA: number;
}

/** The readings of one member; bins without any are left out. */
export function pointsOf(bins: Overview): Point[] {
  const width_s = binWidth_s(bins);
  return bins.mean_mA.flatMap((mean, i) => (mean === null ? [] : [{ t_s: (i + 0.5) * width_s, mA: mean }]));
}

/** Mean over the members, bin by bin, of those that have a reading there. All have equally many bins. */
export function meanOf(members: Overview[]): Overview {
  const first = members[0]!;
  const mean_mA = first.mean_mA.map((_, i) => {
    const there = members.flatMap((member) => member.mean_mA[i] ?? []);
    return there.length === 0 ? null : there.reduce((sum, value) => sum + value, 0) / there.length;
  });
  return { from_s: first.from_s, to_s: first.to_s, mean_mA, min_mA: [], max_mA: [] };
}

/**
 * @param members stretches of equal length and equally many bins, at least one
 * @param lead_s how much of each stretch lies before the wake-up
 */
// oxlint-disable-next-line max-lines-per-function -- one drawing, part by part
export function drawWaveforms(members: Overview[], lead_s: number, surface: Surface): Shape {
  const { width, height, palette, text_px, measure } = surface;
  const span_s = members[0]!.to_s - members[0]!.from_s;
  const lines = members.map(pointsOf);
  const highest = lines.flat().reduce((most, { mA }) => Math.max(most, mA), 0);
  const lowest = lines.flat().reduce((least, { mA }) => Math.min(least, mA), 0);
  const range = currentRange('linear', lowest, highest);
  const size_px = text_px - 1;
  const left =
    Math.max(measure(axisCurrent(range.high_mA), size_px, false), measure(axisCurrent(range.low_mA), size_px, false)) +
    8;
  const bottom = height - size_px - 8;
  const x = timeScale(0, span_s, left, width - 2);
  const y = currentScale('linear', range, bottom, size_px);
  const path = line<Point>()
    .x(({ t_s }) => x(t_s))
    .y(({ mA }) => y(mA));
  const label = (text: string, at_x: number, at_y: number, anchor: string) =>
    shape('text', { x: at_x, y: at_y, 'font-size': size_px, 'text-anchor': anchor, fill: palette.softInk }, [text]);
  return shape(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      width,
      height,
      viewBox: `0 0 ${width} ${height}`,
      'font-family': surface.fontFamily,
    },
    [
      shape('rect', { x: left, y: size_px, width: width - 2 - left, height: bottom - size_px, fill: palette.sheet }),
      shape('line', {
        x1: x(lead_s),
        x2: x(lead_s),
        y1: size_px,
        y2: bottom,
        stroke: palette.softInk,
        'stroke-width': 1,
        'stroke-dasharray': '2 3',
      }),
      ...lines.map((points) =>
        shape('path', {
          d: path(points) ?? '',
          fill: 'none',
          stroke: palette.wakeBand,
          'stroke-width': 1,
          'stroke-opacity': 0.55,
          'data-part': 'member',
        }),
      ),
      shape('path', {
        d: path(pointsOf(meanOf(members))) ?? '',
        fill: 'none',
        stroke: palette.ink,
        'stroke-width': 2,
        'data-part': 'mean-waveform',
      }),
      label(axisCurrent(range.high_mA), left - 5, size_px + size_px * 0.4, 'end'),
      label(axisCurrent(range.low_mA), left - 5, bottom, 'end'),
      label(
        'begins',
        x(lead_s),
        height - 3,
        x(lead_s) - left < measure('begins', size_px, false) / 2 ? 'start' : 'middle',
      ),
      label(time(span_s - lead_s), width - 2, height - 3, 'end'),
    ],
  );
}
