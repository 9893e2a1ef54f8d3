// The bench itself, before anything is judged on it: a sound board reads what flows, and each build fault
// does to the readings what its place in the circuit says. What is expected is worked out from the edit.
import { describe, expect, test } from 'vitest';
import type { WindowReading } from '../../../host/contract/capture.ts';
import { Bench } from './bench.ts';
import type { Load } from './bench.ts';
import { BUILD_FAULTS, SOUND } from './build-faults.ts';
import type { Build } from './build-faults.ts';
import { POST, solve } from './network.ts';
import { LOAD_OHM, soundSpecimen } from './specimens.ts';
import type { Specimen } from './specimens.ts';

const NOMINAL: Specimen = {
  seed: 1,
  offset_nV: 0,
  gain_ppm: 0,
  oscillator_ppm: 0,
  bus_ppm: 0,
  bus_mV: 0,
  bias_nA: [0, 0],
  emf_nV: 0,
  shunt_ppm: 0,
  filter_ppm: [0, 0],
  surge_ppm: 0,
  crystal_ppm: 0,
  draw_mA: 40,
  chip_K: 0,
  bench: { battery_V: 12.6, room_C: 20, load_ohm: [LOAD_OHM, LOAD_OHM], lead_ohm: 0.04 },
  meter: { current_ppm: 0, voltage_ppm: 0 },
};

/** A thousandth of a thousandth of an ampere, and what rounding and noise of a second make. */
const mean_mA = (windows: WindowReading[]) =>
  windows.reduce((sum, { mean_uA }) => sum + mean_uA, 0) / windows.length / 1000;

function reads(bench: Bench, load: Load): number {
  bench.connect(load);
  bench.wait(0.3);
  const from = bench.run.windows.length;
  bench.wait(0.6);
  return mean_mA(bench.run.windows.slice(from));
}

const fault = (is: string): Build => BUILD_FAULTS.find((one) => one.is === is)!;
const bench = (build: Build, more: Partial<Specimen> = {}) => new Bench(build, { ...NOMINAL, ...more });

describe('a network of resistors', () => {
  test('a divider, a bridge and a current out of a net', () => {
    const divider = solve({
      resistors: [
        ['PLUS', 'A', 3],
        ['A', POST, 1],
        ['PLUS', 'B', 2],
        ['B', POST, 2],
        ['A', 'B', 1e9],
      ],
      battery: { plus: 'PLUS', volt: 12 },
      sinks: [['B', 1]],
    });
    expect(divider.get('A')).toBeCloseTo(3, 6);
    // 6 V less 1 A through 1 ohm of both halves.
    expect(divider.get('B')).toBeCloseTo(5, 6);
  });
});

describe('a sound board on the bench', () => {
  test('reads what flows, over three loads', () => {
    const sound = bench(SOUND);
    // EMF 12.6 V over load, lead 0.04, meter 0.02, battery 0.015, fuse, shunt, bolts, clamps: 0.0825 ohm in all.
    for (const [load, ohm] of [
      ['series', 2 * LOAD_OHM],
      ['one', LOAD_OHM],
      ['both', LOAD_OHM / 2],
    ] as const) {
      const flows_mA = 12_600 / (ohm + 0.0829);
      expect(Math.abs(reads(sound, load) / flows_mA - 1), load).toBeLessThan(0.003);
      expect(Math.abs((sound.ampere() * 1000) / flows_mA - 1), load).toBeLessThan(0.005);
    }
    expect(sound.shunt_mV()).toBeCloseTo(sound.ampere() * 5, 0);
    expect(reads(sound, 'none')).toBeCloseTo(0, 1);
    expect(sound.run.statuses).toEqual([]);
  });

  test('specimens stay within their tolerances, and use them', () => {
    const all = Array.from({ length: 400 }, (_, seed) => soundSpecimen(seed));
    const most = (of: (one: Specimen) => number) => Math.max(...all.map((one) => Math.abs(of(one))));
    for (const [value, limit] of [
      [most((one) => one.offset_nV), 1000],
      [most((one) => one.shunt_ppm), 10_000],
      [most((one) => one.gain_ppm), 500],
      [most((one) => one.crystal_ppm), 50],
      [most((one) => one.meter.current_ppm), 10_000],
      [most((one) => one.surge_ppm), 50_000],
    ] as const) {
      expect(value).toBeLessThanOrEqual(limit * 1.000001);
      expect(value).toBeGreaterThan(limit * 0.9);
    }
  });
});

describe('what each build fault does', () => {
  /** Reading of one load over that of the sound board. */
  const share = (is: string) => {
    const one = bench(fault(is));
    return reads(one, 'one') / reads(bench(SOUND), 'one');
  };
  test.each([
    ['sense-swapped', -1],
    ['shunt', 0.3],
    // Two bolts of 0.4 mohm beside 5 mohm.
    ['bolts', 5.8 / 5],
    // 92 and 250 kohm side by side behind 114 ohm, against 9990 ohm more.
    ['filter', 67_365 / 77_355],
    ['past-shunt', 0],
    ['sense-open', 0],
    ['no-current', 0],
  ])('%s: a load of one ampere reads %f', (is, times) => {
    expect(share(is)).toBeCloseTo(times, 2);
  });

  test('the ground lead at the car: what the board draws is in the reading', () => {
    expect(reads(bench(fault('ground-lead')), 'none')).toBeCloseTo(39, 0);
  });

  test.each([
    ['alert', 'no-conversion'],
    ['pull-up-sda', 'bus-stuck'],
    ['pull-up-scl', 'bus-stuck'],
    ['pull-up-weak', 'bus-nack'],
    ['address', 'sensor-missing'],
    ['chip-supply', 'sensor-missing'],
    ['supply-dips', 'brownout'],
  ])('%s: the board says %s', (is, code) => {
    const one = bench(fault(is));
    one.wait(4);
    expect(one.run.statuses.map((status) => status.code)).toContain(code);
  });

  test('pins under the probe', () => {
    expect(['27', '28'].map((pin) => bench(fault('pull-up-sda')).pin_V('U2', pin))).toEqual([0, 5]);
    expect(['27', '28'].map((pin) => bench(fault('pull-up-scl')).pin_V('U2', pin))).toEqual([5, 0]);
    expect(bench(fault('chip-supply')).pin_V('U1', '6')).toBe(0);
    expect(bench(fault('address')).pin_V('U1', '6')).toBe(5);
    expect(bench(fault('no-supply')).powered).toBe(false);
  });

  test('the voltage: open, behind R7, and right', () => {
    const told = (build: Build) => {
      const one = bench(build);
      one.wait(1.5);
      return one.run.voltages.at(-1)!.bus_mV;
    };
    expect(told(fault('voltage-open'))).toBe(0);
    // 40 mA through 6.8 ohm, less what R14 takes on the right way.
    expect(told(SOUND) - told(fault('voltage-low'))).toBeGreaterThan(220);
    expect(bench(fault('voltage-low')).voltageLead_mV()).toBeGreaterThan(240);
    // F1 40 mA x 0.3 ohm, R14 2.2 kohm before 1 Mohm.
    expect(bench(SOUND).voltageLead_mV()).toBeCloseTo(12 + 28, -1);
  });

  test('joints: with the leads still all is well; moved, the meter jumps where the thick lead is poor', () => {
    for (const [is, jumps] of [
      ['sense-joint', false],
      ['thick-joint', true],
    ] as const) {
      const one = bench(fault(is));
      expect(reads(one, 'one')).toBeCloseTo(reads(bench(SOUND), 'one'), -1);
      one.move(true);
      const from = one.run.windows.length;
      one.wait(1);
      const least = Math.min(...one.run.windows.slice(from).map(({ min_uA }) => min_uA / 1000));
      expect(least).toBeLessThan(4300);
      expect(one.meterJumps(), is).toBe(jumps);
    }
    expect(bench(SOUND).meterJumps()).toBe(false);
  });

  test('noise, clock, chip, heat and memory', () => {
    const noisy = bench(fault('noise'));
    noisy.wait(1);
    const span = ({ min_uA, max_uA }: WindowReading) => max_uA - min_uA;
    expect(Math.max(...noisy.run.windows.map(span))).toBeGreaterThan(8000);
    const fast = bench(fault('clock'));
    // It hears nothing while it starts.
    fast.wait(0.5);
    const begin = fast.ping()!;
    fast.wait(2);
    const end = fast.ping()!;
    expect((end.t_us - begin.t_us) / (end.true_s - begin.true_s) / 1e6).toBeCloseTo(1.003, 4);
    const other = bench(fault('other-chip'));
    other.wait(1);
    expect(other.run.hellos[0]!.sensor).toBe('ina226');
    const warm = bench(fault('warm'));
    warm.wait(1.5);
    expect(warm.run.voltages[0]!.temp_mC).toBeGreaterThan(54_000);
    const worn = bench(fault('store'));
    worn.wait(0.5);
    worn.order('k 9');
    worn.wait(0.5);
    expect(worn.run.answers).toEqual([{ kind: 'refusal', tag: 9, reason: 'store' }]);
  });
});
