// The whole night in a strip: its outline, the part that is looked at, and beneath
// it the charge that each hour drew, as in a ledger.

import type { Overview } from '../../host/contract/api.ts';
import { charge, time } from '../../host/say/quantities.ts';
import { rightMargin } from './axis.ts';
import { drawBand } from './band.ts';
import { clockTicks } from './clock.ts';
import { columnsOf } from './columns.ts';
import type { NightData, Surface, View } from './data.ts';
import { binWidth_s, binsWithin } from './data.ts';
import { spansInView } from './events.ts';
import { drawGaps } from './gaps.ts';
import type { Box } from './placement.ts';
import { rangeOf } from './picture.ts';
import type { Scale } from './scales.ts';
import { currentScale, timeScale } from './scales.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

export interface Strip {
  /** All but the part that is looked at: that alone changes with each move. */
  svg: Shape;
  /** Where the night's outline lies. */
  plot: Box;
  x: Scale;
}

const LEDGER_HEIGHT = 34;

/** @param left px kept free at the left, so that the strip stands under the plot */
export function drawStrip(data: NightData, scale: View['scale'], surface: Surface, left: number): Strip {
  const { palette } = surface;
  const plot: Box = {
    x: left,
    y: 2,
    width: Math.max(40, surface.width - left - rightMargin(surface)),
    height: surface.height - LEDGER_HEIGHT - 4,
  };
  const night: View = { from_s: 0, to_s: data.duration_s, scale, selected: null };
  const bottom = plot.y + plot.height;
  const x = timeScale(0, data.duration_s, plot.x, plot.x + plot.width);
  const y = currentScale(scale, rangeOf(data, night, data.whole), bottom, plot.y + 2);
  const ground = {
    bins: data.whole,
    levels: data.findings.levels,
    view: night,
    x,
    y,
    bottom_px: bottom,
    top_px: plot.y,
  };
  const svg = shape(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      width: surface.width,
      height: surface.height,
      viewBox: `0 0 ${surface.width} ${surface.height}`,
      'font-family': surface.fontFamily,
    },
    [
      shape('rect', { x: plot.x, y: plot.y, width: plot.width, height: plot.height, fill: palette.sheet }),
      drawBand(columnsOf(ground), bottom, palette, spansInView(data.findings.wakeups, night, x, 1)),
      drawGaps(data.findings.trace.gaps, night, plot, x, surface),
      ...drawLedger(data, plot, x, surface),
    ],
  );
  return { svg, plot, x };
}

/** What is not looked at lies under a veil; the part that is has an edge and two grips. */
export function drawLooked(
  { from_s, to_s }: Pick<View, 'from_s' | 'to_s'>,
  { plot, x }: Pick<Strip, 'plot' | 'x'>,
  { palette }: Surface,
): Shape {
  const from = Math.max(plot.x, x(from_s));
  const to = Math.min(plot.x + plot.width, x(to_s));
  const veil = (left: number, right: number) =>
    shape('rect', {
      x: left,
      y: plot.y,
      width: Math.max(0, right - left),
      height: plot.height,
      fill: palette.paper,
      'fill-opacity': 0.72,
    });
  // Grips of a narrow window step outside it, so that both stay in reach.
  const out = to - from < 18 ? 6 : 0;
  const grip = (at: number, part: string) =>
    shape('rect', {
      x: at - 3,
      y: plot.y + plot.height * 0.25,
      width: 6,
      height: plot.height * 0.5,
      rx: 3,
      fill: palette.ink,
      'data-part': part,
    });
  return shape('g', {}, [
    veil(plot.x, from),
    veil(to, plot.x + plot.width),
    shape('rect', {
      x: from,
      y: plot.y,
      width: Math.max(2, to - from),
      height: plot.height,
      rx: 2,
      fill: 'none',
      stroke: palette.ink,
      'stroke-width': 1.5,
      'data-part': 'looked-at',
    }),
    grip(from - out, 'grip-from'),
    grip(to + out, 'grip-to'),
  ]);
}

/** Charge that flowed within a stretch, from the bins; null where it has no reading at all. */
export function chargeWithin(bins: Overview, from_s: number, to_s: number): number | null {
  const width_s = binWidth_s(bins);
  const [first, end] = binsWithin(bins, from_s, to_s);
  let sum_mAs = 0;
  let seen = false;
  for (let i = first; i < end; i++) {
    const mean = bins.mean_mA[i] ?? null;
    if (mean === null) continue;
    const start = bins.from_s + i * width_s;
    sum_mAs += mean * Math.max(0, Math.min(to_s, start + width_s) - Math.max(from_s, start));
    seen = true;
  }
  return seen ? sum_mAs / 3600 : null;
}

/** One cell for each hour, or for as many hours as the texts need. */
// oxlint-disable-next-line max-lines-per-function -- one drawing, part by part
function drawLedger(data: NightData, plot: Box, x: Scale, surface: Surface): Shape[] {
  const { palette, measure } = surface;
  const size_px = surface.text_px - 1;
  const top = plot.y + plot.height;
  const cell_px = Math.max(measure('00:00', size_px, false), measure('888 mAh', size_px, false)) + 12;
  const apart_s = Math.max((cell_px / plot.width) * data.duration_s, Math.min(3600, data.duration_s / 4));
  const ticks = clockTicks(data.start_ms, 0, data.duration_s, apart_s);
  const edges = [
    0,
    ...ticks.map((tick) => tick.t_s).filter((t_s) => t_s > 0 && t_s < data.duration_s),
    data.duration_s,
  ];
  const shapes: Shape[] = ticks.flatMap((tick) => {
    const at = x(tick.t_s);
    const half = measure(tick.label, size_px, false) / 2;
    if (at - half < 0 || at + half > surface.width) return [];
    return [
      shape('line', {
        x1: at,
        x2: at,
        y1: top + size_px + 7,
        y2: top + LEDGER_HEIGHT,
        stroke: palette.hairline,
        'stroke-width': 1,
      }),
      shape(
        'text',
        {
          x: at,
          y: top + 13,
          'font-size': size_px,
          'text-anchor': 'middle',
          fill: palette.softInk,
          'data-tick': 'strip',
        },
        [tick.label],
      ),
    ];
  });
  shapes.push(
    shape('text', { x: plot.x - 7, y: top + 29, 'font-size': size_px, 'text-anchor': 'end', fill: palette.softInk }, [
      'charge',
    ]),
  );
  edges.slice(0, -1).forEach((from_s, i) => {
    const to_s = edges[i + 1]!;
    const drawn = chargeWithin(data.whole, from_s, to_s);
    const text = drawn === null ? 'none' : charge(drawn);
    if (measure(text, size_px, false) + 6 > x(to_s) - x(from_s)) return;
    shapes.push(
      shape(
        'text',
        {
          x: (x(from_s) + x(to_s)) / 2,
          y: top + 29,
          'font-size': size_px,
          'text-anchor': 'middle',
          fill: palette.ink,
          'data-part': 'ledger',
        },
        [shape('title', {}, [`drawn within ${time(to_s - from_s)}`]), text],
      ),
    );
  });
  return shapes;
}
