// The shipped image with a sense chip that refuses a byte, each in turn, and with the
// second sense chip.
import { describe, expect, test } from 'vitest';
import { WINDOW_FLAG } from '../../host/contract/capture.ts';
import { SHUNT_OHM } from '../../host/emulator/board.ts';
import { carOf, startRun } from './board-run.ts';

const CAR = carOf([{ name: 'load', awake: [], asleep_mA: 75 }]);

/**
 * Bytes that an INA228 acknowledges. At the start: two reads of an identity (address,
 * pointer, address again), three writes (address, pointer, two bytes of data), one read.
 */
const START_BYTES = 3 * 3 + 3 * 4;
/** While it runs a second has some 950 reads of three; a round with voltage and temperature follows each. */
const ROUND_BYTES = 4 + 3 + 3 + 3 + 3;

describe('a byte that is not acknowledged', () => {
  test.each(Array.from({ length: START_BYTES }, (_, byte) => byte))(
    'byte %i of the start: told, tried again, found',
    (byte) => {
      const run = startRun({ car: CAR });
      run.board.refuseByteAfter(byte);
      run.board.runFor(0.4);
      expect(['sensor-missing', 'bus-nack']).toContain(run.statuses[0]!.code);
      expect(run.statuses.at(-1)!.code).toBe('sensor-ok');
      expect(run.statuses.length).toBe(2);
      expect(run.hellos.length).toBe(1);
      expect(run.windows.length).toBeGreaterThan(5);
      expect(run.windows.every((window) => Math.abs(window.mean_uA - 75_000) < 1000)).toBe(true);
    },
  );

  test.each(Array.from({ length: ROUND_BYTES }, (_, byte) => byte))(
    'byte %i of a round that reads the voltage: told, no reading invented',
    (byte) => {
      const run = startRun({ car: CAR });
      // The voltage is asked for once a second: this begins just before such a round.
      run.board.runFor(1.0005);
      run.board.refuseByteAfter(byte);
      run.board.runFor(0.3);
      const codes = run.statuses.map((status) => status.code);
      expect(['sensor-missing', 'bus-nack']).toContain(codes[0]);
      expect(codes.slice(1)).toEqual(['sensor-ok']);
      // Found again at once: the fault costs some conversions, no more.
      expect(run.statuses[1]!.t_us - run.statuses[0]!.t_us).toBeLessThan(10_000);
      expect(run.windows.every((window) => Math.abs(window.mean_uA - 75_000) < 1000)).toBe(true);
      expect(run.windows.filter((window) => window.flags & WINDOW_FLAG.notJoined).length).toBe(2);
      for (const voltage of run.voltages) {
        expect(Math.abs(voltage.bus_mV - 12_600)).toBeLessThan(10);
        expect(Math.abs(voltage.temp_mC - 21_000)).toBeLessThan(10);
      }
      expect(run.bad).toEqual([]);
    },
  );
});

describe('an INA226', () => {
  const run = startRun({
    car: carOf([{ name: 'load', awake: [{ untilAfterLock_s: 4, mA: 9000 }], asleep_mA: 75 }]),
    sensor: 'ina226',
  });
  run.board.runFor(10);

  test('is found by its identity and states its own limits', () => {
    expect(run.hellos[0]!.sensor).toBe('ina226');
    expect(run.limits).toEqual([
      {
        kind: 'limits',
        range_uV: 81_920,
        step_pV: 2_500_000,
        offset_nV: 10_000,
        gain_ppm: 1000,
        conv_us: 1100,
        temp: false,
      },
    ]);
    const other = startRun({ car: CAR });
    other.board.runFor(0.1);
    expect(other.limits).toEqual([
      { kind: 'limits', range_uV: 163_840, step_pV: 78_125, offset_nV: 1000, gain_ppm: 500, conv_us: 1052, temp: true },
    ]);
  });

  test('is read at 900 conversions a second with none missed, right to half a step of its means', () => {
    expect(run.bad).toEqual([]);
    expect(run.statuses).toEqual([]);
    const count = run.windows.reduce((sum, window) => sum + window.count, 0);
    expect(count / 10).toBeGreaterThan(890);
    expect(
      run.windows.filter(
        (window) => window.flags & (WINDOW_FLAG.conversionMissed | WINDOW_FLAG.rangeSwitched | WINDOW_FLAG.wideRange),
      ),
    ).toEqual([]);
    // 2.5 uV are 0.5 mA; half of that, and five deviations of its noise over 45 conversions.
    const step_mA = (2.5e-6 / SHUNT_OHM) * 1000;
    for (const window of run.windows.filter(({ t_us }) => t_us > 4.2e6))
      expect(Math.abs(window.mean_uA / 1000 - 75)).toBeLessThan(step_mA / 2 + (5 * step_mA) / 2 / Math.sqrt(45));
    expect(run.windows.find(({ t_us }) => t_us > 3e6)!.mean_uA).toBeGreaterThan(8_990_000);
  });

  test('tells the voltage, and that it has no thermometer', () => {
    expect(run.voltages.length).toBeGreaterThanOrEqual(9);
    for (const voltage of run.voltages) {
      expect(voltage.temp_mC).toBeNaN();
      expect(Math.abs(voltage.bus_mV - 12_560)).toBeLessThan(60);
    }
  });

  test('unplugged and plugged in again it is found again', () => {
    const pulled = startRun({ car: CAR, sensor: 'ina226' });
    pulled.board.runFor(1);
    pulled.board.setFault('unplugged');
    pulled.board.runFor(1);
    pulled.board.setFault(null);
    pulled.board.runFor(2);
    // What is met first depends on what the bus was doing: between two rounds it is the address that is not answered.
    const codes = pulled.statuses.map((status) => status.code);
    expect(codes.slice(-2)).toEqual(['sensor-missing', 'sensor-ok']);
    if (codes.length > 2) expect(['no-conversion', 'bus-nack']).toContain(codes[0]);
    expect(codes.length).toBeLessThanOrEqual(3);
    expect(pulled.windows.every((window) => Math.abs(window.mean_uA - 75_000) < 1000)).toBe(true);
  });
});
