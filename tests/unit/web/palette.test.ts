// The colours, by computation: contrast, and what is left of differences for eyes
// without one kind of cone.
//
// Contrast: WCAG 2.2, "relative luminance", success criteria 1.4.3 (text 4.5:1) and
// 1.4.11 (graphics 3:1). Simulation: Machado, Oliveira and Fernandes 2009, matrices for
// full protanopia, deuteranopia and tritanopia (from memory). Difference: CIE 1976 in
// L*a*b* (D65); 10 and more is taken as plainly different (common practice, no source).
import { lab, rgb } from 'd3';
import { describe, expect, test } from 'vitest';
import { DARK, LIGHT } from '../../../web/chart/palette.ts';
import type { Palette } from '../../../web/chart/palette.ts';

type Rgb = [number, number, number];

const linear = (value: number) => (value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4);
const encoded = (value: number) => (value <= 0.0031308 ? value * 12.92 : 1.055 * value ** (1 / 2.4) - 0.055);
const linearOf = (colour: string): Rgb => {
  const { r, g, b } = rgb(colour);
  return [linear(r / 255), linear(g / 255), linear(b / 255)];
};
const luminance = (colour: string) => {
  const [r, g, b] = linearOf(colour);
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const contrast = (a: string, b: string) => {
  const [low, high] = [luminance(a), luminance(b)].sort((x, y) => x - y) as [number, number];
  return (high + 0.05) / (low + 0.05);
};

const BLINDNESS: Record<string, [Rgb, Rgb, Rgb]> = {
  none: [
    [1, 0, 0],
    [0, 1, 0],
    [0, 0, 1],
  ],
  protanopia: [
    [0.152286, 1.052583, -0.204868],
    [0.114503, 0.786281, 0.099216],
    [-0.003882, -0.048116, 1.051998],
  ],
  deuteranopia: [
    [0.367322, 0.860646, -0.227968],
    [0.280085, 0.672501, 0.047413],
    [-0.01182, 0.04294, 0.968881],
  ],
  tritanopia: [
    [1.255528, -0.076749, -0.178779],
    [-0.078411, 0.930809, 0.147602],
    [0.004733, 0.691367, 0.3039],
  ],
};

const seen = (colour: string, blindness: string) => {
  const from = linearOf(colour);
  const [r, g, b] = BLINDNESS[blindness]!.map((row) => {
    const value = row[0] * from[0] + row[1] * from[1] + row[2] * from[2];
    return Math.round(255 * encoded(Math.min(1, Math.max(0, value))));
  }) as Rgb;
  return lab(rgb(r, g, b));
};
const difference = (a: string, b: string, blindness: string) => {
  const [p, q] = [seen(a, blindness), seen(b, blindness)];
  return Math.hypot(p.l - q.l, p.a - q.a, p.b - q.b);
};

test('white stays white in every simulation: the rows of each matrix add up to one', () => {
  for (const matrix of Object.values(BLINDNESS))
    for (const row of matrix) expect(row[0] + row[1] + row[2]).toBeCloseTo(1, 5);
});

const PALETTES: [string, Palette][] = [
  ['light', LIGHT],
  ['dark', DARK],
];

describe.each(PALETTES)('%s palette', (_name, palette) => {
  test('the formula: black on white is 21:1 (WCAG 2.2)', () => {
    expect(contrast('#000', '#fff')).toBeCloseTo(21, 10);
  });

  test('every text is 4.5:1 or more on all that it stands on', () => {
    const grounds = [palette.paper, palette.sheet, palette.hour, palette.wakeWash];
    for (const text of [palette.ink, palette.softInk, palette.wake, palette.asleep, palette.allowance]) {
      for (const ground of grounds) expect(contrast(text, ground), `${text} on ${ground}`).toBeGreaterThanOrEqual(4.5);
    }
    // The verdict's tag is paper on colour.
    for (const ground of [palette.ink, palette.wake, palette.asleep])
      expect(contrast(palette.paper, ground)).toBeGreaterThanOrEqual(4.5);
  });

  test('every line and mark is 3:1 or more on the sheet', () => {
    for (const line of [palette.mean, palette.level, palette.wake, palette.asleep, palette.allowance, palette.gap]) {
      expect(contrast(line, palette.sheet), line).toBeGreaterThanOrEqual(3);
    }
  });

  test.each(Object.keys(BLINDNESS))('neighbours stay apart with %s', (blindness) => {
    const pairs: [string, string][] = [
      [palette.mean, palette.wake],
      [palette.level, palette.wake],
      [palette.band, palette.wakeBand],
      [palette.ground, palette.wakeFill],
      [palette.wake, palette.asleep],
      [palette.billGoing, palette.billAsleep],
      [palette.billAsleep, palette.billWake],
      [palette.billGoing, palette.billWake],
      [palette.ground, palette.sheet],
      [palette.ground, palette.hour],
    ];
    for (const [a, b] of pairs) expect(difference(a, b, blindness), `${a} ${b}`).toBeGreaterThanOrEqual(10);
  });
});
