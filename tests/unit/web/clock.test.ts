// The time axis across midnight and across the nights on which the clocks are moved.
// Summer time in the European Union ends and begins at 01:00 UTC on the last Sunday
// of October and March (Directive 2000/84/EC, articles 2 and 3).
import { timeWords } from '../../../host/say/times.ts';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { drawTimeAxis } from '../../../web/chart/axis.ts';
import { clockChanges, clockTicks, midnights } from '../../../web/chart/clock.ts';
import type { Surface, View } from '../../../web/chart/data.ts';
import { LIGHT } from '../../../web/chart/palette.ts';
import { timeScale } from '../../../web/chart/scales.ts';
import { estimateText } from '../../../web/chart/text.ts';
import { textOf } from '../../../web/chart/tree.ts';

const zoneBefore = process.env['TZ'];
beforeAll(() => {
  process.env['TZ'] = 'Europe/Berlin';
});
afterAll(() => {
  if (zoneBefore === undefined) delete process.env['TZ'];
  else process.env['TZ'] = zoneBefore;
});

const HOUR = 3600;
const labels = (start: string, hours: number, apart_s: number) =>
  clockTicks(Date.parse(start), 0, hours * HOUR, apart_s).map((t) => `${t.t_s / HOUR} ${t.label}`);

describe('time axis', () => {
  test('from whatever instant a night begins, no full hour is left out', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 3_600_000 }), (off_ms) => {
        const ticks = clockTicks(Date.parse('2026-11-24T21:00:00+01:00') + off_ms, 0, 9 * HOUR, HOUR);
        for (let i = 1; i < ticks.length; i++) expect(ticks[i]!.t_s - ticks[i - 1]!.t_s).toBeCloseTo(HOUR, 3);
      }),
    );
  });

  test('an ordinary night: full hours, midnight marked', () => {
    const start_ms = Date.parse('2026-11-24T22:05:00+01:00');
    const ticks = clockTicks(start_ms, 0, 4 * HOUR, HOUR);
    expect(ticks.map((t) => t.label)).toEqual(['23:00', '00:00', '01:00', '02:00']);
    expect(ticks.map((t) => Math.round(t.t_s / 60))).toEqual([55, 115, 175, 235]);
    expect(ticks.filter((t) => t.midnight).map((t) => t.label)).toEqual(['00:00']);
    expect(midnights(start_ms, 0, 9 * HOUR)).toEqual([115 * 60]);
    expect(timeWords(start_ms).date(115 * 60)).toBe('Wed 25 Nov');
  });

  test("the clocks go back: two o'clock comes twice, hours stay an hour apart", () => {
    // 25 October 2026, 01:00 UTC: 03:00 becomes 02:00.
    const start = '2026-10-25T00:00:00+02:00';
    expect(labels(start, 6, HOUR)).toEqual([
      '0 00:00',
      '1 01:00',
      '2 02:00',
      '3 02:00',
      '4 03:00',
      '5 04:00',
      '6 05:00',
    ]);
    expect(clockChanges(Date.parse(start), 0, 9 * HOUR)).toEqual([{ t_s: 3 * HOUR, by_s: -HOUR }]);
  });

  test('the picture says so under its hours', () => {
    const start_ms = Date.parse('2026-10-24T22:10:00+02:00');
    const view: View = { from_s: 0, to_s: 10 * HOUR, scale: 'log', selected: null };
    const surface: Surface = {
      width: 1000,
      height: 400,
      palette: LIGHT,
      measure: estimateText,
      fontFamily: 'sans-serif',
      text_px: 12,
    };
    const plot = { x: 50, y: 0, width: 900, height: 350 };
    const text = textOf(drawTimeAxis(start_ms, view, plot, timeScale(0, 10 * HOUR, 50, 950), surface));
    expect(text).toContain('Sun 25 Oct');
    expect(text).toContain('clocks back 60 min');
  });

  test("the clocks go forward: two o'clock is missing", () => {
    // 29 March 2026, 01:00 UTC: 02:00 becomes 03:00.
    const start = '2026-03-29T00:00:00+01:00';
    expect(labels(start, 4, HOUR)).toEqual(['0 00:00', '1 01:00', '2 03:00', '3 04:00', '4 05:00']);
    expect(clockChanges(Date.parse(start), 0, 9 * HOUR)).toEqual([{ t_s: 2 * HOUR, by_s: HOUR }]);
  });

  test('ticks never stand nearer than asked, on the longest night too', () => {
    const start_ms = Date.parse('2026-10-24T22:10:00+02:00');
    for (const apart_s of [7, 90, 500, 1900, 4000, 9000]) {
      const ticks = clockTicks(start_ms, 0, 10 * HOUR, apart_s);
      expect(ticks.length).toBeGreaterThan(0);
      for (let i = 1; i < ticks.length; i++) expect(ticks[i]!.t_s - ticks[i - 1]!.t_s).toBeGreaterThanOrEqual(apart_s);
    }
  });

  test('a midnight in summer time is local midnight, not that of UTC', () => {
    expect(midnights(Date.parse('2026-07-01T20:00:00Z'), 0, 9 * HOUR)).toEqual([2 * HOUR]);
  });

  test('without a clock the axis counts from the start', () => {
    expect(clockTicks(null, 0, 3 * HOUR, HOUR).map((t) => t.label)).toEqual(['0 h', '1 h', '2 h', '3 h']);
    expect(clockTicks(null, 0, 100, 50).map((t) => t.label)).toEqual(['0:00 h', '0:01 h']);
    expect(midnights(null, 0, 48 * HOUR)).toEqual([]);
    expect(timeWords(null).seconds(3725)).toBe('+1:02:05 h');
  });
});
