// The clock of a board against this computer's, from pings: a crystal that is off, and a computer that is late.
import { expect, test } from 'vitest';
import { clockOf } from '../../../host/link/proving.ts';
import type { Instant } from '../../../host/link/proving.ts';

const TRIP_S = 0.003;
/** Pings each two seconds. @param late_s how late the board seems at each */
const pings = (rate: number, late_s: (i: number) => number = () => 0): Instant[] =>
  Array.from({ length: 11 }, (_, i) => ({ host_s: 2 * i, board_s: 5 + 2 * i * rate - late_s(i), trip_s: TRIP_S }));

test('a clock that keeps to its line is told with no more doubt than the answers and a busy computer make', () => {
  const clock = clockOf(pings(1.003))!;
  expect(clock).toMatchObject({ host_s: 20 });
  expect(clock.board_s).toBeCloseTo(20.06, 9);
  expect(clock.doubt_s).toBeCloseTo(2 * TRIP_S + 0.03, 9);
});

test('an answer that came late is doubt, not a clock that is off', () => {
  for (const late of [0, 4, 10]) {
    const { board_s, host_s, doubt_s } = clockOf(pings(1, (i) => (i === late ? 0.05 : 0)))!;
    expect(Math.abs(board_s - host_s), `late at ${late}`).toBeLessThan(doubt_s);
  }
});

test('too little to tell', () => {
  expect(clockOf(pings(1).slice(0, 1))).toBeNull();
  expect(clockOf([])).toBeNull();
});
