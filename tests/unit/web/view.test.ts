// Moves over the night: always inside it, never inside out.
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { around, CLOSEST_S, fitted, followed, panned, zoomed } from '../../../web/view.ts';

const NIGHT_S = 9 * 3600;
const place = fc.double({ min: -NIGHT_S, max: 2 * NIGHT_S, noNaN: true });

describe('moves', () => {
  test('any series of moves stays within the night', () => {
    const moves = fc.array(
      fc.record({
        kind: fc.constantFrom('zoom', 'pan', 'around'),
        at: place,
        by: fc.double({ min: 0.01, max: 100, noNaN: true }),
      }),
    );
    fc.assert(
      fc.property(moves, (list) => {
        let window = { from_s: 0, to_s: NIGHT_S };
        for (const { kind, at, by } of list) {
          if (kind === 'zoom') window = zoomed(window, by, Math.min(Math.max(at, window.from_s), window.to_s), NIGHT_S);
          else if (kind === 'pan') window = panned(window, at, NIGHT_S);
          else
            window = around(
              {
                start_s: Math.min(Math.max(0, at), NIGHT_S - 100),
                end_s: Math.min(Math.max(0, at), NIGHT_S - 100) + by,
              },
              window,
              NIGHT_S,
            );
          expect(window.from_s).toBeGreaterThanOrEqual(-1e-6);
          expect(window.to_s).toBeLessThanOrEqual(NIGHT_S + 1e-6);
          expect(window.to_s - window.from_s).toBeGreaterThanOrEqual(CLOSEST_S - 1e-6);
        }
      }),
    );
  });

  test('zooming keeps the instant under the pointer where it is', () => {
    const before = { from_s: 4000, to_s: 8000 };
    const after = zoomed(before, 0.5, 5000, NIGHT_S);
    expect((5000 - after.from_s) / (after.to_s - after.from_s)).toBeCloseTo(0.25, 9);
    expect(after.to_s - after.from_s).toBeCloseTo(2000, 9);
  });

  test('going to an event shows all of it', () => {
    const event = { start_s: 5000, end_s: 9000 };
    const window = around(event, { from_s: 0, to_s: 60 }, NIGHT_S);
    expect(window.from_s).toBeLessThan(event.start_s);
    expect(window.to_s).toBeGreaterThan(event.end_s);
  });

  test('a trace shorter than the closest look is shown whole', () => {
    expect(fitted({ from_s: 0, to_s: 0.2 }, 0.2)).toEqual({ from_s: 0, to_s: 0.2 });
  });

  test('while the night grows, the whole stays whole, the end stays the end, the rest stays put', () => {
    expect(followed({ from_s: 0, to_s: 600 }, 600, 660)).toEqual({ from_s: 0, to_s: 660 });
    expect(followed({ from_s: 500, to_s: 600 }, 600, 660)).toEqual({ from_s: 560, to_s: 660 });
    expect(followed({ from_s: 100, to_s: 200 }, 600, 660)).toEqual({ from_s: 100, to_s: 200 });
  });
});
