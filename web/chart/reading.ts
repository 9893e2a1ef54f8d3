// The exact values at one instant, in words, and the hair that shows where it is.

import { reading, time } from '../../host/say/quantities.ts';
import { timeWords } from '../../host/say/times.ts';
import type { NightData, Surface, View } from './data.ts';
import { binsFor, binWidth_s } from './data.ts';
import type { Picture } from './picture.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

export interface ReadOut {
  t_s: number;
  time: string;
  /** Null where there is no reading. */
  mean_mA: number | null;
  /** Mean, lowest and highest, and the time that they stand for. */
  sentence: string;
}

export function readAt(data: NightData, view: View, t_s: number): ReadOut {
  const bins = binsFor(data, view);
  const width_s = binWidth_s(bins);
  const i = Math.min(bins.mean_mA.length - 1, Math.max(0, Math.floor((t_s - bins.from_s) / width_s)));
  const words = timeWords(data.start_ms);
  const date = words.date(t_s);
  const instant = `${date === null ? '' : `${date}, `}${words.seconds(t_s)}`;
  const mean_mA = bins.mean_mA[i] ?? null;
  if (mean_mA === null) return { t_s, time: instant, mean_mA, sentence: `${instant}: no reading` };
  const [low, high] = [bins.min_mA[i] ?? mean_mA, bins.max_mA[i] ?? mean_mA];
  const spread = high - low < 1e-9 ? '' : ` (${reading(low)} to ${reading(high)})`;
  // Bins may be finer than the readings; a reading stands for its own time then.
  const { samples } = data.findings.trace;
  const spacing_s = data.duration_s / Math.max(1, samples);
  return {
    t_s,
    time: instant,
    mean_mA,
    sentence: `${instant}: ${reading(mean_mA)}${spread}, within ${time(Math.max(width_s, spacing_s))}`,
  };
}

/** Drawn over the picture, so that moving it leaves the picture alone. */
export function drawReading(reading: ReadOut, picture: Picture, surface: Surface): Shape {
  const { plot, x, y } = picture;
  const at = x(reading.t_s);
  if (at < plot.x || at > plot.x + plot.width) return shape('g');
  const children = [
    shape('line', {
      x1: at,
      x2: at,
      y1: plot.y,
      y2: plot.y + plot.height,
      stroke: surface.palette.ink,
      'stroke-width': 1,
    }),
  ];
  if (reading.mean_mA !== null) {
    const height = Math.min(plot.y + plot.height, Math.max(plot.y, y(reading.mean_mA)));
    children.push(
      shape('circle', {
        cx: at,
        cy: height,
        r: 4,
        fill: surface.palette.sheet,
        stroke: surface.palette.ink,
        'stroke-width': 1.5,
      }),
    );
  }
  return shape('g', { 'data-part': 'reading' }, children);
}
