// The INA226 model against its data sheet (SBOS547, June 2011): the worked example of table 1,
// register values after power-on, conversion times, clipping, ALERT.
import { expect, test } from 'vitest';
import { Agenda } from '../../../host/emulator/chip/agenda.ts';
import { Ina226 } from '../../../host/emulator/ina226.ts';

const CLOCK_HZ = 16_000_000;
const CONFIG = 0;
const MASK_ENABLE = 6;

/** The chip on a bench: settable inputs, a clock that is turned by hand. */
class Bench {
  shunt_V = 0;
  bus_V = 12;
  cycles = 0;
  readonly falls_s: number[] = [];
  level = true;
  readonly agenda = new Agenda();
  readonly chip = new Ina226({
    inputs: { shuntMean_V: () => this.shunt_V, bus_V: () => this.bus_V, temperature_C: () => 25 },
    errors: {},
    gaussian: () => 0,
    agenda: this.agenda,
    cycles: () => this.cycles,
    clock_Hz: CLOCK_HZ,
    onAlert: (level) => {
      if (this.level && !level) this.falls_s.push(this.cycles / CLOCK_HZ);
      this.level = level;
    },
  });

  run(s: number): void {
    const end = this.cycles + s * CLOCK_HZ;
    while (this.agenda.next <= end) {
      this.cycles = this.agenda.next;
      this.agenda.run(this.cycles);
    }
    this.cycles = end;
  }

  write(register: number, value: number): void {
    expect(this.chip.address(0x40, false)).toBe(true);
    for (const byte of [register, value >> 8, value & 0xff]) expect(this.chip.write(byte)).toBe(true);
    this.chip.stop();
  }

  read(register: number): number {
    this.chip.address(0x40, false);
    this.chip.write(register);
    this.chip.address(0x40, true);
    const value = this.chip.read() * 256 + this.chip.read();
    this.chip.stop();
    return value;
  }
}

test('values after power-on', () => {
  const bench = new Bench();
  expect([0x00, 0x05, 0x06, 0xfe, 0xff].map((register) => bench.read(register))).toEqual([
    0x4127, 0, 0, 0x5449, 0x2260,
  ]);
  expect(bench.chip.address(0x41, false)).toBe(false);
});

test('the worked example: 10 A in 2 milliohms', () => {
  const bench = new Bench();
  bench.shunt_V = 0.02;
  bench.bus_V = 11.98;
  bench.write(0x05, 2560);
  bench.run(0.01);
  // 1F40h, 2570h, 2710h; the power register is not modelled.
  expect([0x01, 0x02, 0x04].map((register) => bench.read(register))).toEqual([8000, 9584, 10000]);
  bench.shunt_V = -0.08;
  bench.run(0.01);
  expect(bench.read(0x01)).toBe(0x8300);
});

test('it clips at +-81.92 mV', () => {
  const bench = new Bench();
  bench.shunt_V = 0.1;
  bench.run(0.01);
  expect(bench.read(0x01)).toBe(0x7fff);
  bench.shunt_V = -0.1;
  bench.run(0.01);
  expect(bench.read(0x01)).toBe(0x8000);
});

test('ALERT falls at the end of a conversion of 1.1 ms and stays low until MASK/ENABLE is read', () => {
  const bench = new Bench();
  bench.write(MASK_ENABLE, 0x0400);
  bench.write(CONFIG, 0x4025);
  bench.run(0.0045);
  expect(bench.falls_s.length).toBe(1);
  expect(bench.falls_s[0]!).toBeCloseTo(0.0011, 7);
  expect(bench.level).toBe(false);
  expect(bench.read(MASK_ENABLE)).toBe(0x0408);
  expect(bench.level).toBe(true);
  expect(bench.read(MASK_ENABLE)).toBe(0x0400);
  bench.run(0.0011);
  expect(bench.falls_s.length).toBe(2);
  // Shunt and bus of 140 us: 1.24 ms from the write on.
  const from_s = bench.cycles / CLOCK_HZ;
  bench.write(CONFIG, 0x4027);
  expect(bench.level).toBe(true);
  bench.run(0.002);
  expect(bench.falls_s.at(-1)! - from_s).toBeCloseTo(0.00124, 7);
});
