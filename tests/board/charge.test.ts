// The running charge against the car's exact integral, over steps, pulses of 2 ms, changes
// of range and clipped conversions, with 5 % of the lines destroyed on the wire.
import { expect, test } from 'vitest';
import { WINDOW_FLAG } from '../../host/contract/capture.ts';
import { seededRandom } from '../../host/emulator/random.ts';
import { carOf, clockOffset_s, startRun } from './board-run.ts';
import { LONG_TIMEOUT_MS, SOAK } from './length.ts';

/** Half a cycle and more of the car's; an hour in the soak. */
const LENGTH_S = SOAK ? 3600 : 30;

/** Where the narrow range ends, and the longest time that one conversion stands for. */
const NARROW_END_MA = 8192;
const CONVERSION_S = 1.7e-3;
const TOP_MA = 11_000;

/** A staircase through both ranges that repeats each minute, and pulses of 2 ms on it. */
function restlessCar() {
  const cycle = [
    { duration_s: 12, rise_mA: 250 },
    { duration_s: 9, rise_mA: TOP_MA },
    { duration_s: 20, rise_mA: 60 },
    { duration_s: 10, rise_mA: 7000 },
  ];
  return carOf([
    {
      name: 'staircase',
      awake: [],
      asleep_mA: 15,
      wakes: [{ when: 'every', first_s: 1, period_s: 55, jitter_s: 2, stages: cycle }],
    },
    {
      name: 'receiver',
      awake: [],
      asleep_mA: 0.5,
      trains: [{ from_s: 2.05, period_s: 0.31373, on_s: 0.002, mA: 6000 }],
    },
  ]);
}

test(
  'charge within 0.1 % and the bound of the clipped conversions, with every line and with one in twenty destroyed',
  () => {
    const random = seededRandom(5);
    let destroyed = 0;
    const wire = (line: string) => {
      if (random() >= 0.05) return line;
      destroyed++;
      const at = Math.floor(random() * line.length);
      return (
        line.slice(0, at) +
        String.fromCharCode(line.charCodeAt(at) ^ (1 << Math.floor(random() * 7))) +
        line.slice(at + 1)
      );
    };
    const run = startRun({ car: restlessCar(), seed: 3, wire });
    run.board.runFor(LENGTH_S);
    const { windows } = run;
    expect(run.bad.length).toBe(destroyed);
    expect(destroyed).toBeGreaterThan(LENGTH_S * 0.6);
    expect(windows.at(-1)!.seq + 1 - windows.length).toBeGreaterThan(LENGTH_S * 0.6);
    expect(windows.some((window) => window.flags & WINDOW_FLAG.rangeSwitched)).toBe(true);
    expect(windows.some((window) => window.flags & WINDOW_FLAG.conversionMissed)).toBe(false);

    const offset_s = clockOffset_s(run);
    const at_mC = (t_us: number) => run.board.car.charge_mC(t_us / 1e6 + offset_s);
    const first = windows[0]!;
    const last = windows.at(-1)!;
    const true_mC = at_mC(last.t_us) - at_mC(first.t_us);
    const told_mC = (last.charge_nC - first.charge_nC) / 1e6;
    // A jump over the end of the narrow range clips one conversion; a window that is lost may hide one, so lost ones
    // count too.
    const clipped = windows.filter((window) => window.flags & WINDOW_FLAG.clipped).length;
    const hidden = Math.ceil(clipped * 0.2) + 1;
    const bound_mC = (clipped + hidden) * (TOP_MA + 6000 - NARROW_END_MA) * CONVERSION_S;
    console.log(
      `charge over ${LENGTH_S} s: ${told_mC.toFixed(1)} of ${true_mC.toFixed(1)} mC (${(1e6 * (told_mC / true_mC - 1)).toFixed(0)} ppm), ${clipped} windows with a clipped conversion`,
    );
    expect(clipped).toBeGreaterThan(0);
    expect(Math.abs(told_mC - true_mC)).toBeLessThan(0.001 * true_mC + bound_mC);
    // What was drawn in the windows that were lost is known from the charge on both sides.
    for (const [i, window] of windows.entries()) {
      const before = windows[i - 1];
      if (before === undefined || window.seq === before.seq + 1) continue;
      const gap_mC = (window.charge_nC - before.charge_nC) / 1e6;
      const there_mC = at_mC(window.t_us) - at_mC(before.t_us);
      expect(Math.abs(gap_mC - there_mC)).toBeLessThan(0.001 * there_mC + 2 * TOP_MA * CONVERSION_S + 0.1);
    }
  },
  LONG_TIMEOUT_MS,
);
