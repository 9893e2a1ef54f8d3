// Draws the live trace: a canvas, since it changes twenty times a second on each of
// several boards, on a tablet.

import { axisCurrent, change, time } from '../../host/say/quantities.ts';
import type { LiveStep, LiveWindow } from '../../host/contract/api.ts';
import type { Mark } from '../chart/data.ts';
import { currentScale, currentTicks, timeScale } from '../chart/scales.ts';
import type { CurrentRange, CurrentScaleKind, Scale } from '../chart/scales.ts';
import { fitText } from '../chart/text.ts';
import { FONT_FAMILY } from '../measure.ts';
import type { Palette } from '../chart/palette.ts';
import { gapsOf } from './trace-range.ts';

export interface TracePicture {
  windows: readonly LiveWindow[];
  steps: readonly LiveStep[];
  marks: readonly Mark[];
  /** The instant at the right edge, seconds on the trace. */
  edge_s: number;
  span_s: number;
  range: CurrentRange;
  kind: CurrentScaleKind;
  palette: Palette;
}

interface Plot {
  left: number;
  right: number;
  top: number;
  bottom: number;
  x: Scale;
  y: Scale;
  text_px: number;
}

const TICK_APART_PX = 26;
const MARK_TEXT_PX = 160;

/** @param ratio device pixels in one of the page's */
export function drawTrace(
  canvas: HTMLCanvasElement,
  width: number,
  height: number,
  ratio: number,
  picture: TracePicture,
): void {
  const pixels = [Math.round(width * ratio), Math.round(height * ratio)] as const;
  if (canvas.width !== pixels[0] || canvas.height !== pixels[1]) [canvas.width, canvas.height] = pixels;
  const pen = canvas.getContext('2d');
  if (pen === null) return;
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  const text_px = width < 480 ? 12 : 14;
  const left = text_px * 4.6,
    right = width - 10,
    top = text_px * 1.7,
    bottom = height - text_px * 1.9;
  const plot: Plot = {
    left,
    right,
    top,
    bottom,
    text_px,
    x: timeScale(picture.edge_s - picture.span_s, picture.edge_s, left, right),
    y: currentScale(picture.kind, picture.range, bottom, top),
  };
  pen.fillStyle = picture.palette.sheet;
  pen.fillRect(0, 0, width, height);
  drawAxes(pen, plot, picture);
  pen.save();
  pen.beginPath();
  pen.rect(left, 0, right - left, height);
  pen.clip();
  drawGaps(pen, plot, picture);
  drawBand(pen, plot, picture);
  pen.restore();
  drawSteps(pen, plot, picture);
  drawMarks(pen, plot, picture);
}

function font(pen: CanvasRenderingContext2D, size_px: number, bold = false): void {
  pen.font = `${bold ? 600 : 400} ${size_px}px ${FONT_FAMILY}`;
}

function drawAxes(
  pen: CanvasRenderingContext2D,
  plot: Plot,
  { kind, range, span_s, edge_s, palette }: TracePicture,
): void {
  const { left, right, bottom, x, y, text_px } = plot;
  font(pen, text_px - 1);
  pen.textBaseline = 'middle';
  pen.textAlign = 'right';
  for (const value of currentTicks(kind, range, y, TICK_APART_PX)) {
    pen.strokeStyle = palette.hairline;
    pen.beginPath();
    pen.moveTo(left, y(value));
    pen.lineTo(right, y(value));
    pen.stroke();
    pen.fillStyle = palette.softInk;
    pen.fillText(axisCurrent(value), left - 7, y(value));
  }
  pen.textBaseline = 'alphabetic';
  for (let ago_s = 0; ago_s <= span_s; ago_s += span_s <= 30 ? 10 : 30) {
    pen.textAlign = ago_s === 0 ? 'right' : ago_s === span_s ? 'left' : 'center';
    pen.fillText(
      ago_s === 0 ? 'now' : ago_s === span_s ? `${time(span_s)} ago` : `${ago_s} s`,
      x(edge_s - ago_s),
      bottom + text_px * 1.35,
    );
  }
}

/** Hatched, so that no colour is needed to see that nothing was read there. */
function drawGaps(pen: CanvasRenderingContext2D, plot: Plot, { windows, edge_s, span_s, palette }: TracePicture): void {
  const { x, top, bottom, text_px } = plot;
  for (const [from_s, to_s] of gapsOf(windows, edge_s - span_s, edge_s)) {
    const [from, to] = [x(from_s), x(to_s)];
    pen.save();
    pen.beginPath();
    pen.rect(from, top, to - from, bottom - top);
    pen.clip();
    pen.strokeStyle = palette.gap;
    pen.lineWidth = 1;
    pen.beginPath();
    for (let at = from - (bottom - top); at < to; at += 9) {
      pen.moveTo(at, bottom);
      pen.lineTo(at + bottom - top, top);
    }
    pen.stroke();
    pen.restore();
    font(pen, text_px - 1);
    const width = pen.measureText('no readings').width;
    if (to - from > width + 12) {
      pen.fillStyle = palette.sheet;
      pen.fillRect((from + to - width) / 2 - 4, (top + bottom) / 2 - text_px * 0.75, width + 8, text_px * 1.5);
      pen.fillStyle = palette.ink;
      pen.textAlign = 'center';
      pen.fillText('no readings', (from + to) / 2, (top + bottom) / 2 + text_px * 0.35);
    }
  }
}

/** The band from lowest to highest, and the mean as a line that steps from window to window. */
function drawBand(
  pen: CanvasRenderingContext2D,
  { x, y }: Plot,
  { windows, edge_s, span_s, palette }: TracePicture,
): void {
  const seen = windows.filter(([t_s]) => t_s > edge_s - span_s);
  pen.fillStyle = palette.band;
  for (const [t_s, dur_s, , min_mA, max_mA] of seen) {
    const from = x(t_s - dur_s);
    const high = y(max_mA);
    pen.fillRect(from, high - 0.5, x(t_s) - from + 0.35, y(min_mA) - high + 1);
  }
  pen.strokeStyle = palette.mean;
  pen.lineWidth = 2;
  pen.lineJoin = 'round';
  pen.beginPath();
  let end_s = -Infinity;
  for (const [t_s, dur_s, mean_mA] of seen) {
    const from_s = t_s - dur_s;
    if (from_s - end_s > Math.max(0.02, dur_s / 2)) pen.moveTo(x(from_s), y(mean_mA));
    else pen.lineTo(x(from_s), y(mean_mA));
    pen.lineTo(x(t_s), y(mean_mA));
    end_s = t_s;
  }
  pen.stroke();
  pen.lineWidth = 1;
}

/** Newest first: where two would lie over each other the older one keeps its tick alone. */
function drawSteps(
  pen: CanvasRenderingContext2D,
  { x, top, bottom, left, right, text_px }: Plot,
  { steps, edge_s, span_s, palette }: TracePicture,
): void {
  font(pen, text_px, true);
  let free = right;
  for (const { t_s, from_mA, to_mA } of [...steps].reverse()) {
    if (t_s < edge_s - span_s || t_s > edge_s) continue;
    const at = x(t_s);
    pen.strokeStyle = palette.level;
    pen.setLineDash([2, 3]);
    pen.beginPath();
    pen.moveTo(at, top - 3);
    pen.lineTo(at, bottom);
    pen.stroke();
    pen.setLineDash([]);
    const text = change(to_mA - from_mA);
    const width = pen.measureText(text).width;
    const from = Math.min(Math.max(at - width / 2, left), right - width);
    if (from + width > free) continue;
    pen.fillStyle = palette.level;
    pen.textAlign = 'left';
    pen.fillText(text, from, top - 7);
    free = from - 10;
  }
}

/** Along the foot of the plot, on a ground of their own. */
function drawMarks(
  pen: CanvasRenderingContext2D,
  { x, top, bottom, right, text_px }: Plot,
  { marks, edge_s, span_s, palette }: TracePicture,
): void {
  font(pen, text_px - 1, true);
  let free = right;
  for (const { t_s, text } of [...marks].sort((a, b) => b.t_s - a.t_s)) {
    if (t_s < edge_s - span_s || t_s > edge_s) continue;
    const at = x(t_s);
    pen.strokeStyle = palette.ink;
    pen.beginPath();
    pen.moveTo(at, top);
    pen.lineTo(at, bottom);
    pen.stroke();
    const shown = fitText(
      text,
      Math.min(MARK_TEXT_PX, free - at - 10),
      text_px - 1,
      true,
      (part) => pen.measureText(part).width,
    );
    free = at - 6;
    if (shown === '') continue;
    const width = pen.measureText(shown).width;
    pen.fillStyle = palette.ink;
    pen.fillRect(at, bottom - text_px * 1.55, width + 8, text_px * 1.5);
    pen.fillStyle = palette.sheet;
    pen.textAlign = 'left';
    pen.fillText(shown, at + 4, bottom - text_px * 0.45);
  }
}
