// The levels that the analysis found, drawn as one staircase through the trace.

import type { Findings } from '../../host/contract/findings.ts';
import type { View } from './data.ts';
import type { Palette } from './palette.ts';
import type { Box } from './placement.ts';
import type { Scale } from './scales.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

/** Levels nearer in time than this are joined by a riser. */
const JOINED_PX = 6;

export function drawStaircase(
  levels: Findings['levels'],
  view: View,
  plot: Box,
  x: Scale,
  y: Scale,
  palette: Palette,
): Shape {
  const height = (value: number) => Math.min(plot.y + plot.height, Math.max(plot.y, y(value)));
  let d = '';
  let last_px: number | null = null;
  for (const level of levels) {
    if (level.end_s < view.from_s || level.start_s > view.to_s) continue;
    const from = x(Math.max(level.start_s, view.from_s)).toFixed(1);
    const to = x(Math.min(level.end_s, view.to_s)).toFixed(1);
    const at = height(level.level_mA).toFixed(1);
    const joined = last_px !== null && Number(from) - last_px <= JOINED_PX;
    d += joined ? `L${from} ${at}H${to}` : `M${from} ${at}H${to}`;
    last_px = Number(to);
  }
  return shape('path', {
    d,
    fill: 'none',
    stroke: palette.level,
    'stroke-width': 2.4,
    'stroke-linejoin': 'round',
    'stroke-linecap': 'round',
    'data-part': 'staircase',
  });
}

/** Asleep level and allowance, from edge to edge; told apart by their dashes, not by colour alone. */
export function drawRulings(findings: Findings, plot: Box, y: Scale, palette: Palette): Shape {
  const ruling = (value_mA: number, part: string, stroke: string, dashes: string) => {
    const at = y(value_mA);
    if (!(at >= plot.y && at <= plot.y + plot.height)) return [];
    return [
      shape('line', {
        x1: plot.x,
        x2: plot.x + plot.width,
        y1: at,
        y2: at,
        stroke,
        'stroke-width': 1.3,
        'stroke-dasharray': dashes,
        'data-part': part,
      }),
    ];
  };
  return shape('g', {}, [
    ...ruling(findings.allowance_mA, 'allowance', palette.allowance, '10 5'),
    ...(findings.asleep === null ? [] : ruling(findings.asleep.level_mA, 'asleep', palette.asleep, '2 4')),
  ]);
}
