// The draw against the allowance as one bar: what the car draws asleep, what wake-ups add to
// it on average, and where the allowance ends.

import { scaleLinear } from 'd3';
import type { Surface } from './data.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

export interface Draw {
  /** Null where the car never slept. */
  level_mA: number | null;
  /** On average, wake-ups included. */
  mean_mA: number;
  allowance_mA: number;
}

/** Beyond the allowance there is room to see that a bar ends well before it. */
const ROOM = 1.5;
const INSET_PX = 5;

export function drawGauge(
  { level_mA, mean_mA, allowance_mA }: Draw,
  { width, height, palette }: Pick<Surface, 'width' | 'height' | 'palette'>,
): Shape {
  const most_mA = Math.max(allowance_mA * ROOM, mean_mA * 1.05, (level_mA ?? 0) * 1.05, 1e-6);
  const x = scaleLinear([0, most_mA], [0, width]).clamp(true);
  const bar = (from_mA: number, to_mA: number, fill: string, part: string) => {
    const left = x(from_mA);
    return x(to_mA) - left < 0.5
      ? []
      : [
          shape('rect', {
            x: left,
            y: INSET_PX,
            width: x(to_mA) - left,
            height: height - 2 * INSET_PX,
            fill,
            'data-part': part,
          }),
        ];
  };
  const asleep_mA = Math.max(0, level_mA ?? 0);
  const at = x(allowance_mA);
  return shape('svg', { xmlns: 'http://www.w3.org/2000/svg', width, height, viewBox: `0 0 ${width} ${height}` }, [
    shape('rect', { x: 0, y: INSET_PX, width, height: height - 2 * INSET_PX, fill: palette.hairline }),
    ...bar(0, asleep_mA, palette.billAsleep, 'asleep'),
    ...bar(asleep_mA, mean_mA, palette.billWake, 'on-average'),
    shape('line', {
      x1: at,
      x2: at,
      y1: 0,
      y2: height,
      stroke: palette.allowance,
      'stroke-width': 2,
      'stroke-dasharray': '4 2',
      'data-part': 'allowance',
    }),
  ]);
}
