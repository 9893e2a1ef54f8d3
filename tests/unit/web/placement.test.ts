// Label placement: whatever is asked, no label lies over another and none leaves the plot.
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { ladderPlaces } from '../../../web/chart/ladder.ts';
import type { Rung } from '../../../web/chart/ladder.ts';
import { inside, overlaps, placeLabels } from '../../../web/chart/placement.ts';
import type { Box, LabelRequest } from '../../../web/chart/placement.ts';

const bounds = fc.record({
  x: fc.double({ min: 0, max: 80, noNaN: true }),
  y: fc.double({ min: 0, max: 80, noNaN: true }),
  width: fc.double({ min: 30, max: 2600, noNaN: true }),
  height: fc.double({ min: 20, max: 900, noNaN: true }),
});

/** Anchors anywhere within the plot, many of them on the same few pixels, as in a staircase. */
const requestsIn = (plot: Box) =>
  fc
    .array(
      fc.record({
        crowd: fc.boolean(),
        u: fc.double({ min: 0, max: 1, noNaN: true }),
        v: fc.double({ min: 0, max: 1, noNaN: true }),
        width: fc.double({ min: 5, max: 220, noNaN: true }),
        height: fc.integer({ min: 14, max: 22 }),
        priority: fc.integer({ min: 0, max: 3 }),
        along: fc.boolean(),
      }),
      { maxLength: 40 },
    )
    .map((list) =>
      list.map((r, i): LabelRequest => ({
        id: `label-${i}`,
        kind: r.along && i < 2 ? 'along' : 'point',
        anchor: {
          x: plot.x + (r.crowd ? Math.min(20, plot.width) * r.u : plot.width * r.u),
          y: plot.y + plot.height * r.v,
        },
        width: r.width,
        height: r.height,
        priority: r.priority,
      })),
    );

const cases = bounds.chain((plot) => fc.record({ plot: fc.constant(plot), requests: requestsIn(plot) }));

describe('label placement', () => {
  test('placed labels never overlap, never leave the plot; all others are handed back', () => {
    fc.assert(
      fc.property(cases, ({ plot, requests }) => {
        const taken: Box = { x: plot.x + plot.width - 60, y: plot.y, width: 60, height: 17 };
        const { placed, left } = placeLabels(requests, plot, () => 0, [taken]);
        expect([...placed.map((p) => p.id), ...left].sort()).toEqual(requests.map((r) => r.id).sort());
        placed.forEach(({ id, box }, i) => {
          const request = requests.find((r) => r.id === id)!;
          expect([box.width, box.height]).toEqual([request.width, request.height]);
          expect(inside(box, plot)).toBe(true);
          expect(overlaps(box, taken)).toBe(false);
          for (const other of placed.slice(i + 1)) expect(overlaps(box, other.box)).toBe(false);
        });
      }),
      { numRuns: 120 },
    );
  });

  test('a leader line runs over no other label', () => {
    fc.assert(
      fc.property(cases, ({ plot, requests }) => {
        const { placed } = placeLabels(requests, plot, () => 0);
        for (const { leader, id } of placed) {
          if (leader === null) continue;
          for (let share = 0.02; share < 0.98; share += 0.02) {
            const x = leader.from.x + (leader.to.x - leader.from.x) * share;
            const y = leader.from.y + (leader.to.y - leader.from.y) * share;
            for (const other of placed) {
              if (other.id === id) continue;
              const { box } = other;
              const within =
                x > box.x + 0.01 && x < box.x + box.width - 0.01 && y > box.y + 0.01 && y < box.y + box.height - 0.01;
              expect(within, `${id} over ${other.id}`).toBe(false);
            }
          }
        }
      }),
      { numRuns: 60 },
    );
  });

  test('a label that fits alone is always placed, next to its anchor', () => {
    const plot = { x: 50, y: 10, width: 300, height: 200 };
    for (const anchor of [
      { x: 50, y: 10 },
      { x: 350, y: 210 },
      { x: 200, y: 100 },
    ]) {
      const { placed } = placeLabels(
        [{ id: 'a', kind: 'point', anchor, width: 120, height: 17, priority: 1 }],
        plot,
        () => 0,
      );
      expect(placed).toHaveLength(1);
      expect(placed[0]!.leader).toBeNull();
    }
  });

  test('the more important label gets the place', () => {
    const plot = { x: 0, y: 0, width: 100, height: 18 };
    const request = (id: string, priority: number): LabelRequest => ({
      id,
      kind: 'point',
      anchor: { x: 50, y: 9 },
      width: 90,
      height: 17,
      priority,
    });
    const { placed, left } = placeLabels([request('small', 1), request('large', 2)], plot, () => 0);
    expect([placed.map((p) => p.id), left]).toEqual([['large'], ['small']]);
  });

  test('a label that has to lie over the drawing is led to its anchor by a line', () => {
    const plot = { x: 0, y: 0, width: 400, height: 60 };
    const request: LabelRequest = {
      id: 'a',
      kind: 'point',
      anchor: { x: 200, y: 30 },
      width: 80,
      height: 17,
      priority: 1,
    };
    expect(placeLabels([request], plot, () => 0.1).placed[0]!.leader).not.toBeNull();
    expect(placeLabels([request], plot, () => 0).placed[0]!.leader).toBeNull();
  });

  test('a wish is granted where the place is free, and only there', () => {
    const plot = { x: 0, y: 0, width: 400, height: 200 };
    const request: LabelRequest = {
      id: 'a',
      kind: 'point',
      anchor: { x: 50, y: 100 },
      width: 80,
      height: 17,
      priority: 1,
      wished: { x: 70, y: 40 },
    };
    expect(placeLabels([request], plot, () => 0).placed[0]!.box).toMatchObject({ x: 70, y: 40 });
    const { placed } = placeLabels([request], plot, () => 0, [{ x: 60, y: 30, width: 40, height: 40 }]);
    expect(placed).toHaveLength(1);
    expect(placed[0]!.box).not.toMatchObject({ x: 70, y: 40 });
  });

  test('labels of a crowded staircase stand in its order, right of their risers, each with its line', () => {
    const plot = { x: 0, y: 0, width: 800, height: 300 };
    const steps = Array.from({ length: 7 }, (_, i): Rung => ({
      falls: true,
      request: {
        id: `step-${i}`,
        kind: 'point',
        anchor: { x: 4 + i * 4, y: 90 + i * 12 },
        width: 130,
        height: 17,
        priority: 1,
      },
    }));
    const places = ladderPlaces(steps, plot);
    const { placed, left } = placeLabels(
      steps.map(({ request }) => ({ ...request, wished: places.get(request.id)! })),
      plot,
      () => 0.2,
    );
    expect(left).toEqual([]);
    const inOrder = [...placed].sort((a, b) => (a.id < b.id ? -1 : 1));
    inOrder.forEach(({ box, leader }, i) => {
      expect(box.x).toBeGreaterThan(steps[i]!.request.anchor.x);
      expect(leader?.from).toEqual(steps[i]!.request.anchor);
      if (i > 0) expect(box.y).toBeGreaterThan(inOrder[i - 1]!.box.y);
    });
    // Two steps, and steps that stand apart, need no ladder.
    expect(ladderPlaces(steps.slice(0, 2), plot).size).toBe(0);
    expect(
      ladderPlaces(
        steps.map(({ request }, i) => ({
          falls: true,
          request: { ...request, anchor: { x: 4 + i * 4, y: 20 + i * 40 } },
        })),
        plot,
      ).size,
    ).toBe(0);
  });

  test('keeps off what is drawn where there is room', () => {
    const plot = { x: 0, y: 0, width: 400, height: 200 };
    const drawing: Box = { x: 0, y: 100, width: 400, height: 100 };
    const { placed } = placeLabels(
      [{ id: 'a', kind: 'point', anchor: { x: 200, y: 108 }, width: 80, height: 17, priority: 1 }],
      plot,
      (box) => (overlaps(box, drawing) ? 1 : 0),
    );
    expect(overlaps(placed[0]!.box, drawing)).toBe(false);
  });
});
