// The INA226 sense chip as the firmware sees it on the bus. Source: data sheet SBOS547
// (registers, configuration, mask/enable, electrical characteristics).
//
// Constants: shunt 2.5 uV a step, +-81.92 mV; bus 1.25 mV; conversion times 140, 204, 332,
// 588, 1100, 2116, 4156, 8244 us; averages 1 ... 1024. CURRENT = SHUNT x CALIBRATION / 2048.
//
// ALERT with CNVR set falls at the end of a round and stays low until MASK/ENABLE is read or
// CONFIG is written. Assumed, for want of a figure: noise at the input of half a step
// (1.25 uV) per conversion of 1.1 ms, bus noise of 0.5 mV, the order shunt then bus;
// registers that the chip does not have read as 0. POWER and the limits are not modelled.
import { RegisterChip } from './register-chip.ts';
import type { SenseChipOptions } from './sense-chip.ts';

const CONFIG = 0x00;
const SHUNT = 0x01;
const BUS = 0x02;
const CURRENT = 0x04;
const CALIBRATION = 0x05;
const MASK_ENABLE = 0x06;
const DIE_ID = 0xff;

const RST = 1 << 15;
const CNVR = 1 << 10;
const CVRF = 1 << 3;

const CONVERSION_US = [140, 204, 332, 588, 1100, 2116, 4156, 8244];
const AVERAGES = [1, 4, 16, 64, 128, 256, 512, 1024];
const SHUNT_STEP_V = 2.5e-6;
const BUS_STEP_V = 1.25e-3;
const NOISE_V = 1.25e-6;
const NOISE_US = 1100;
const BUS_NOISE_V = 0.5e-3;

const RESET: Record<number, number> = { [CONFIG]: 0x4127, 0xfe: 0x5449, [DIE_ID]: 0x2260 };
const WRITABLE = new Set([CONFIG, CALIBRATION, MASK_ENABLE, 0x07]);

export class Ina226 extends RegisterChip {
  private roundStart_s = 0;

  constructor(options: SenseChipOptions) {
    super(options);
    this.powerOn();
  }

  powerOn(): void {
    this.registers = new Map(Object.entries(RESET).map(([register, value]) => [Number(register), value]));
    this.options.onAlert(true);
    this.restart();
  }

  protected registerBytes(): number[] {
    let value = this.get(this.pointer);
    if (this.pointer === DIE_ID && this.fault === 'wrong-id') value = 0x1234;
    if (this.pointer === MASK_ENABLE) this.acknowledge();
    return [(value >> 8) & 0xff, value & 0xff];
  }

  protected writeRegister(register: number, value: number): void {
    if (!WRITABLE.has(register)) return;
    if (register === CONFIG && value & RST) return this.powerOn();
    this.registers.set(register, value);
    if (register !== CONFIG) return;
    this.acknowledge();
    this.restart();
  }

  private acknowledge(): void {
    this.registers.set(MASK_ENABLE, this.get(MASK_ENABLE) & ~CVRF);
    this.options.onAlert(true);
  }

  private restart(): void {
    this.roundStart_s = this.options.cycles() / this.options.clock_Hz;
    this.plan();
  }

  /** Length of each channel's conversion in seconds of true time, 0 where it is off. */
  private times(): { shunt_s: number; bus_s: number; averages: number } {
    const config = this.get(CONFIG);
    const second = 1e-6 / (1 + (this.options.errors.oscillator_ppm ?? 0) * 1e-6);
    const time = (on: number, code: number) => (on ? CONVERSION_US[code & 7]! * second : 0);
    return {
      shunt_s: time(config & 1, config >> 3),
      bus_s: time(config & 2, config >> 6),
      averages: AVERAGES[(config >> 9) & 7]!,
    };
  }

  private plan(): void {
    const { shunt_s, bus_s, averages } = this.times();
    const end_s = this.roundStart_s + (shunt_s + bus_s) * averages;
    this.options.agenda.set(this.slot, shunt_s + bus_s === 0 ? Infinity : end_s * this.options.clock_Hz);
  }

  protected endRound(): void {
    const { inputs, errors, gaussian } = this.options;
    const { shunt_s, bus_s, averages } = this.times();
    const round_s = shunt_s + bus_s;
    const end_s = this.roundStart_s + round_s * averages;
    if (shunt_s > 0) {
      let sum_V = 0;
      for (let i = 0; i < averages; i++) {
        const from_s = this.roundStart_s + i * round_s;
        sum_V += inputs.shuntMean_V(from_s, from_s + shunt_s);
      }
      const noise_V = gaussian() * NOISE_V * Math.sqrt((NOISE_US * 1e-6) / (shunt_s * averages));
      const measured_V =
        (sum_V / averages) * (1 + (errors.gain_ppm ?? 0) * 1e-6) + (errors.offset_nV ?? 0) * 1e-9 + noise_V;
      const raw = Math.max(-0x8000, Math.min(0x7fff, Math.round(measured_V / SHUNT_STEP_V)));
      this.registers.set(SHUNT, raw);
      this.registers.set(CURRENT, Math.trunc((raw * this.get(CALIBRATION)) / 2048));
    }
    if (bus_s > 0) {
      const bus_V = inputs.bus_V(end_s) + (gaussian() * BUS_NOISE_V) / Math.sqrt(averages);
      this.registers.set(BUS, Math.max(0, Math.min(0x7fff, Math.round(bus_V / BUS_STEP_V))));
    }
    this.roundStart_s = end_s;
    if (this.get(CONFIG) & 4) this.plan();
    if (this.fault === 'no-conversion') return;
    this.options.onReady?.(end_s);
    this.registers.set(MASK_ENABLE, this.get(MASK_ENABLE) | CVRF);
    if (this.get(MASK_ENABLE) & CNVR) this.options.onAlert(false);
  }
}
