// The whole picture, drawn in Node without a document: what it says, and that its
// labels keep apart at any width and zoom.
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Findings } from '../../../host/contract/findings.ts';
import { drawBill } from '../../../web/chart/bill.ts';
import type { NightData, Surface, View } from '../../../web/chart/data.ts';
import { railRows, sameEvent } from '../../../web/chart/events.ts';
import { drawPicture } from '../../../web/chart/picture.ts';
import { inside, overlaps } from '../../../web/chart/placement.ts';
import type { Box } from '../../../web/chart/placement.ts';
import { LIGHT } from '../../../web/chart/palette.ts';
import { readAt } from '../../../web/chart/reading.ts';
import { chargeWithin, drawStrip } from '../../../web/chart/strip.ts';
import { estimateText } from '../../../web/chart/text.ts';
import { textOf, toText } from '../../../web/chart/tree.ts';
import type { Shape } from '../../../web/chart/tree.ts';
import { inventNight, RESTLESS, STAIRS, START_MS, STEADY } from '../../browser/nights.ts';
import type { Night } from '../../browser/nights.ts';

const surface = (width: number, height = 420): Surface => ({
  width,
  height,
  palette: LIGHT,
  measure: estimateText,
  fontFamily: 'sans-serif',
  text_px: width < 480 ? 11 : 12,
});
const dataOf = (night: Night): NightData => {
  const duration_s = night.plan.hours * 3600;
  return {
    start_ms: START_MS,
    duration_s,
    findings: night.findings,
    whole: night.bins(0, duration_s, 2000),
    detail: null,
    marks: [],
  };
};
const wholeOf = (data: NightData): View => ({ from_s: 0, to_s: data.duration_s, scale: 'log', selected: null });

function all(node: Shape, wanted: (shape: Shape) => boolean): Shape[] {
  const below = node.children.flatMap((child) => (typeof child === 'string' ? [] : all(child, wanted)));
  return wanted(node) ? [node, ...below] : below;
}
const labelsOf = (svg: Shape) => all(svg, (shape) => 'data-label' in shape.attrs);
const boxOf = (label: Shape): Box => {
  const { x, y, width, height } = (label.children[0] as Shape).attrs;
  return { x: Number(x), y: Number(y), width: Number(width), height: Number(height) };
};

const stairs = dataOf(inventNight(STAIRS));
const restless = dataOf(inventNight(RESTLESS));
const steady = dataOf(inventNight(STEADY));

/** Intervals are not drawn. */
const ANY = { low: 0, high: 0 };
const SURE = { t_95_s: ANY, change_95_mA: ANY };

describe('the picture', () => {
  test('every step carries its change and the level after it, at every width', () => {
    for (const width of [360, 700, 1280, 2560]) {
      const { svg } = drawPicture(stairs, wholeOf(stairs), surface(width));
      const texts = labelsOf(svg)
        .filter((l) => l.attrs['data-label'] === 'step')
        .map(textOf);
      expect(texts.sort()).toEqual(
        ['\u22121.9 A → 900 mA', '\u2212161 mA → 19 mA', '\u2212240 mA → 180 mA', '\u2212480 mA → 420 mA'].sort(),
      );
    }
  });

  test('asleep level, allowance, the lone wake-up and the gap are named; the family has its row', () => {
    const { svg } = drawPicture(stairs, wholeOf(stairs), surface(1280));
    const texts = labelsOf(svg).map(textOf);
    expect(texts).toContain('asleep level 19 mA from 22:30');
    expect(texts).toContain('allowance 50 mA');
    expect(texts).toContain('10 min, peak 359 mA');
    expect(texts).toContain('no readings for 12 min');
    expect(all(svg, (s) => s.attrs['data-title'] === 'rail').map(textOf)).toEqual([
      'Family 1: 15 wake-ups, every 34 min, 48 s and 25.1 mAh each',
      '1 one-off wake-up',
    ]);
  });

  test('labels keep apart and inside the plot, at any width and zoom; none is lost without being counted', () => {
    const cases = fc.record({
      data: fc.constantFrom(stairs, restless, steady),
      width: fc.integer({ min: 200, max: 2600 }),
      height: fc.integer({ min: 200, max: 900 }),
      from: fc.double({ min: 0, max: 0.999, noNaN: true }),
      share: fc.double({ min: 0.0001, max: 1, noNaN: true }),
      linear: fc.boolean(),
    });
    fc.assert(
      fc.property(cases, ({ data, width, height, from, share, linear }) => {
        const from_s = from * data.duration_s;
        const view: View = {
          from_s,
          to_s: Math.min(data.duration_s, from_s + share * data.duration_s),
          scale: linear ? 'linear' : 'log',
          selected: null,
        };
        const { svg, plot, labelsLeft } = drawPicture(data, view, surface(width, height));
        const labels = labelsOf(svg);
        const boxes = labels.map(boxOf);
        boxes.forEach((box, i) => {
          // Coordinates are written with two decimals.
          expect(
            inside(box, { x: plot.x - 0.02, y: plot.y - 0.02, width: plot.width + 0.04, height: plot.height + 0.04 }),
          ).toBe(true);
          for (const other of boxes.slice(i + 1)) expect(overlaps(box, other)).toBe(false);
        });
        const inView = data.findings.steps.filter((step) => step.t_s >= view.from_s && step.t_s <= view.to_s).length;
        const drawn = labels.filter((l) => l.attrs['data-label'] === 'step').length;
        expect(drawn + labelsLeft).toBeGreaterThanOrEqual(inView);
        expect(toText(svg)).not.toMatch(/NaN|Infinity|undefined/);
      }),
      { numRuns: 60 },
    );
  });

  test('labels that find no place are counted in a note', () => {
    const crowd: Findings = {
      ...steady.findings,
      steps: Array.from({ length: 60 }, (_, i) => ({ t_s: 3000 + i, from_mA: 320 + i, to_mA: 321 + i, ...SURE })),
    };
    const data = { ...steady, findings: crowd };
    const { svg, labelsLeft } = drawPicture(data, wholeOf(data), surface(360, 300));
    const labels = labelsOf(svg);
    expect(labelsLeft).toBeGreaterThan(0);
    const named = labels.filter((l) => l.attrs['data-label'] !== 'note').length;
    // 60 steps, the asleep level and the allowance.
    expect(named + labelsLeft).toBe(62);
    expect(labels.filter((l) => l.attrs['data-label'] === 'note').map(textOf)).toEqual([
      `${labelsLeft} more in a closer view`,
    ]);
  });

  test('ten thousand wake-ups stay few shapes', () => {
    const { svg } = drawPicture(restless, wholeOf(restless), surface(1280));
    expect(all(svg, () => true).length).toBeLessThan(400);
    expect(textOf(svg)).toContain('10\u00a0000 wake-ups');
  });

  test('wake-ups in every pixel are washed from the level there to the peak there, never to a level elsewhere', () => {
    const count = 2000;
    // A pulse of 80 mA in each bin, over 900 mA in the first tenth and over 30 mA after it.
    const level = (i: number) => (i < count / 10 ? 900 : 30);
    const of = (value: (i: number) => number) => Array.from({ length: count }, (_, i) => value(i));
    const whole = {
      from_s: 0,
      to_s: 16_000,
      mean_mA: of((i) => level(i) + 3),
      min_mA: of(level),
      max_mA: of((i) => level(i) + 80),
    };
    const wakeups = of((i) => i).map((i) => ({
      start_s: i * 8 + 1,
      end_s: i * 8 + 1.3,
      peak_mA: level(i) + 80,
      mean_mA: level(i) + 80,
      charge_mAh: 0.007,
      charge_95_mAh: ANY,
      family: 1,
      steps: [],
    }));
    const findings: Findings = {
      ...steady.findings,
      wakeups,
      families: [
        {
          id: 1,
          count,
          period_s: 8,
          period_chance: 1e-9,
          period_95_s: null,
          polling: false,
          duration_s: 0.3,
          charge_mAh: 0.007,
        },
      ],
      steps: [{ t_s: 1600, from_mA: 900, to_mA: 30, ...SURE }],
      levels: [
        { start_s: 0, end_s: 1600, level_mA: 900, level_95_mA: ANY },
        { start_s: 1600, end_s: 16_000, level_mA: 30, level_95_mA: ANY },
      ],
    };
    const data = { ...steady, duration_s: 16_000, whole, findings };
    const { svg, x, y } = drawPicture(data, wholeOf(data), surface(1280));
    const washes = all(svg, (s) => s.attrs['data-part'] === 'wake-fill');
    expect(washes).not.toEqual([]);
    let seen = 0;
    for (const wash of washes) {
      let at = 0;
      for (const [, command, value, down] of String(wash.attrs['d']).matchAll(/([MVH])(-?[\d.]+)(?: (-?[\d.]+))?/g)) {
        if (command !== 'V') at = Number(value);
        const height = command === 'V' ? Number(value) : Number(down);
        if (command === 'H' || at < x(1600) + 2) continue;
        seen++;
        expect(height).toBeGreaterThanOrEqual(y(110) - 0.1);
      }
    }
    expect(seen).toBeGreaterThan(1000);
  });

  test('gaps of a few pixels get no label where they are many; a selected one does', () => {
    const gaps = Array.from({ length: 20 }, (_, i) => ({ start_s: 2000 + i * 1000, end_s: 2011 + i * 1000 }));
    const data = { ...steady, findings: { ...steady.findings, trace: { ...steady.findings.trace, gaps } } };
    const named = (view: View) =>
      labelsOf(drawPicture(data, view, surface(1280)).svg).filter((l) => l.attrs['data-label'] === 'gap').length;
    expect(named(wholeOf(data))).toBe(0);
    expect(named({ ...wholeOf(data), selected: 'gap-3' })).toBe(1);
    expect(named({ ...wholeOf(data), from_s: 1990, to_s: 2020 })).toBe(1);
    expect(
      all(drawPicture(data, wholeOf(data), surface(1280)).svg, (s) => s.attrs['data-part'] === 'gap').length,
    ).toBeGreaterThan(15);
  });

  test('zero and negative readings have their place on the logarithmic scale', () => {
    const bins = {
      from_s: 0,
      to_s: 100,
      mean_mA: [-3000, -5, 0, 0.5, 2000],
      min_mA: [-3100, -6, 0, 0.4, 1900],
      max_mA: [-2900, -4, 0, 0.6, 2100],
    };
    const data: NightData = { ...steady, duration_s: 100, whole: bins, findings: { ...steady.findings, levels: [] } };
    const { y, plot } = drawPicture(data, wholeOf(data), surface(800));
    const heights = bins.mean_mA.map(y);
    for (let i = 1; i < heights.length; i++) expect(heights[i]!).toBeLessThan(heights[i - 1]!);
    expect(Math.max(...heights)).toBeLessThanOrEqual(plot.y + plot.height);
  });

  test('what a file says cannot become markup', () => {
    const hostile = '</text><script>alert("1")</script>&\u0000';
    const data = { ...stairs, marks: [{ t_s: 10_000, text: hostile }] };
    const text = toText(drawPicture(data, wholeOf(data), surface(1280)).svg);
    expect(text).not.toContain('<script');
    expect(text).not.toContain('\u0000');
    expect(text).toContain('&lt;/text&gt;&lt;script');
  });

  test('gaps are hatched and no line crosses them', () => {
    const { svg, x } = drawPicture(stairs, wholeOf(stairs), surface(1280));
    expect(all(svg, (s) => s.attrs['data-part'] === 'gap')).toHaveLength(1);
    const gap = stairs.findings.trace.gaps[0]!;
    const mean = String(all(svg, (s) => s.attrs['data-part'] === 'mean')[0]!.attrs['d']);
    expect(mean.match(/M/g)!.length).toBe(2);
    const points = [...mean.matchAll(/[MH](-?[\d.]+)/g)].map((m) => Number(m[1]));
    expect(points.filter((px) => px > x(gap.start_s + 40) && px < x(gap.end_s - 40))).toEqual([]);
  });
});

describe('around the picture', () => {
  test('rows beyond the limit are folded into one', () => {
    const family = (id: number) => ({
      id,
      count: 2,
      period_s: null,
      period_chance: null,
      period_95_s: null,
      polling: false,
      duration_s: 5,
      charge_mAh: id,
    });
    const wake = (id: number, start_s: number) => ({
      start_s,
      end_s: start_s + 5,
      peak_mA: 100,
      mean_mA: 90,
      charge_mAh: id,
      charge_95_mAh: ANY,
      family: id,
      steps: [],
    });
    const findings: Findings = {
      ...steady.findings,
      families: [1, 2, 3, 4, 5, 6].map(family),
      wakeups: [1, 2, 3, 4, 5, 6].flatMap((id) => [wake(id, id * 100), wake(id, id * 100 + 50)]),
    };
    const rows = railRows(findings, 3);
    expect(rows).toHaveLength(3);
    expect(rows[0]!.titles[0]).toContain('Family 6');
    expect(rows[2]!.titles[0]).toBe('8 wake-ups in 4 more families');
    const alone: Findings = {
      ...findings,
      wakeups: [...findings.wakeups, { ...wake(7, 900), family: null }],
      dips: [wake(8, 950)],
    };
    expect(railRows(alone, 6)[5]!.titles[0]).toBe('2 wake-ups in 1 more family, 1 one-off wake-up, 1 dip');
    expect(rows.flatMap((row) => row.events)).toHaveLength(12);
  });

  test('an event is found again in findings told anew', () => {
    const later: Findings = {
      ...stairs.findings,
      wakeups: [{ ...stairs.findings.wakeups[0]!, start_s: 1800, end_s: 1830 }, ...stairs.findings.wakeups],
    };
    expect(sameEvent('wakeup-3', stairs.findings, later)).toBe('wakeup-4');
    expect(sameEvent('step-1', stairs.findings, later)).toBe('step-1');
    expect(sameEvent('wakeup-0', later, stairs.findings)).toBeNull();
  });

  test('the ledger of hours adds up to the night', () => {
    let sum = 0;
    for (let hour = 0; hour < 9; hour++) sum += chargeWithin(steady.whole, hour * 3600, (hour + 1) * 3600)!;
    // 320 mA for 9 hours.
    expect(sum).toBeCloseTo(2880, -1);
    expect(textOf(drawStrip(steady, 'log', surface(1280, 96), 60).svg)).toContain('320 mAh');
  });

  test('the bill shares its bar by charge', () => {
    const svg = drawBill(
      { total_mAh: 100, going_to_sleep_mAh: 25, asleep_mAh: 50, wakeups_mAh: 25, gaps_mAh: null },
      surface(402, 20),
    );
    expect(svg.children.map((part) => (part as Shape).attrs['width'])).toEqual([98.5, 199, 98.5]);
  });

  test('a reading tells the values of its bin, and no finer time than the samples have', () => {
    const { sentence } = readAt({ ...stairs, detail: null }, { ...wholeOf(stairs), to_s: 20 }, 60);
    expect(sentence).toMatch(/^Tue 24 Nov, 22:06:00: 2\.8\d A \(2\.\d\d A to 2\.\d\d A\), within 16 s$/);
    const gap = readAt(stairs, wholeOf(stairs), 25_000);
    expect(gap.sentence).toBe('Wed 25 Nov, 05:01:40: no reading');
  });
});
