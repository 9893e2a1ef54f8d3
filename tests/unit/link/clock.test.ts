// Alignment of device time to host time under late lines, a wrong and wandering
// resonator, and a host clock that stands still. Truth is known: it makes the data.
import { describe, expect, test } from 'vitest';
import { axisOf } from '../../../host/capture/read/timeline.ts';
import { ClockFit } from '../../../host/link/clock.ts';

/** Mulberry32: a small seeded generator. */
function random(seed: number): () => number {
  let a = seed;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), a | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

interface Night {
  hours: number;
  /** Device seconds less host seconds, per second. */
  rate: (host_s: number) => number;
  delay_us: (host_s: number) => number;
  /** What the host's clock lost up to then. */
  stood_us?: (host_s: number) => number;
}

/** Runs a night window by window. Returns the largest error of the final axis in seconds. */
function run({ hours, rate, delay_us, stood_us = () => 0 }: Night): { worst_s: number; knots: number } {
  const fit = new ClockFit(false);
  const truth: [number, number][] = [];
  const step_s = 0.05;
  let t_us = 1_234_567;
  for (let host_s = 5; host_s < 5 + hours * 3600; host_s += step_s) {
    t_us += step_s * 1e6 * (1 + rate(host_s));
    fit.add(Math.round(t_us), host_s * 1e6 - stood_us(host_s) + delay_us(host_s));
    truth.push([t_us, host_s]);
  }
  const place = axisOf(fit.knots());
  return {
    worst_s: Math.max(
      ...truth.filter((_, i) => i % 97 === 0 || i > truth.length - 5).map(([t, s]) => Math.abs(place(t) / 1e6 - s)),
    ),
    knots: fit.knots().length,
  };
}

describe('alignment', () => {
  test.each([1, 2, 3])(
    '12 h, 5000 ppm off, wandering 50 ppm, delays to 250 ms over a floor of 15 ms: within 100 ms (seed %i)',
    (seed) => {
      const next = random(seed);
      const { worst_s, knots } = run({
        hours: 12,
        rate: (s) => 0.005 + 50e-6 * Math.sin((2 * Math.PI * s) / (3 * 3600)),
        delay_us: () => 15_000 + next() * 235_000,
      });
      expect(worst_s).toBeLessThan(0.1);
      expect(knots).toBeGreaterThan(300);
    },
  );

  test('bursts: 99 lines of 100 wait for the next wake-up of the host', () => {
    const next = random(7);
    const { worst_s } = run({
      hours: 2,
      rate: () => -0.004,
      delay_us: () => 5000 + (next() < 0.99 ? 100_000 + next() * 150_000 : next() * 20_000),
    });
    expect(worst_s).toBeLessThan(0.1);
  });

  test('a minute is enough to tell the rate', () => {
    const next = random(9);
    expect(run({ hours: 1 / 60, rate: () => 0.005, delay_us: () => 1000 + next() * 9000 }).worst_s).toBeLessThan(0.03);
  });

  test('a host that was suspended for an hour: the board tells how long', () => {
    const next = random(11);
    const { worst_s } = run({
      hours: 4,
      rate: () => 0.003,
      delay_us: () => 2000 + next() * 50_000,
      stood_us: (s) => (s > 7200 ? 3600e6 : 0),
    });
    // The stretch in which it stood is bent by what one stretch's rate is uncertain.
    expect(worst_s).toBeLessThan(0.5);
  });

  test('a few lines: the earliest arrival gives the offset, the rate is taken as it is', () => {
    const fit = new ClockFit(false);
    expect(fit.knots()).toEqual([]);
    fit.add(50_000, 1_050_400);
    fit.add(100_000, 1_100_100);
    fit.add(150_000, 1_150_300);
    expect(fit.knots()).toEqual([{ t_us: 100_000, axis_us: 1_100_100 }]);
  });

  test('an emulated board at another speed keeps its own rate, however slow the emulation is', () => {
    const fit = new ClockFit(true);
    for (let i = 0; i < 10_000; i++) fit.add(i * 50_000, 7e6 + i * 65_000);
    expect(fit.knots()).toEqual([{ t_us: 0, axis_us: 7e6 }]);
  });

  test('resumed: the first arrival is put where the earlier knots say', () => {
    const fit = new ClockFit(false, {
      knots: [
        { t_us: 0, axis_us: 1e6 },
        { t_us: 1e9, axis_us: 1e6 + 1.001e9 },
      ],
    });
    fit.add(2e9, 0);
    expect(fit.shift_us).toBeCloseTo(1e6 + 2.002e9, 3);
  });
});
