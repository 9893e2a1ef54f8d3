// The INA228 sense chip as the firmware sees it on the bus: registers, ranges,
// conversion times, noise, quantisation, ALERT. Source: data sheet SLYS021A.
//
// Constants (tables 7-3 to 7-19 and 8.1):
//   VSHUNT  312.5 nV a step at ADCRANGE 0 (163.84 mV / 2^19), 78.125 nV at 1 (40.96 mV / 2^19)
//   VBUS    195.3125 uV, DIETEMP 7.8125 mC
//   CURRENT = V / R / LSB, with SHUNT_CAL = 13107.2e6 x LSB x R (x 4 at ADCRANGE 1). At
//           ADCRANGE 0 V = VSHUNT x 312.5 nV, so CURRENT = VSHUNT x 312.5e-9 x 13107.2e6 /
//           SHUNT_CAL = VSHUNT x 4096 / SHUNT_CAL; at 1 both the step and SHUNT_CAL change
//           fourfold and the same line holds.
//   CHARGE  one CURRENT step for one second
//   conversion times 50, 84, 150, 280, 540, 1052, 2074, 4120 us; averages 1 ... 1024
//
// Noise: table 8-2 gives 12.6 noise-free bits at +-40.96 mV, 1052 us, one average. They are
// 81.92 mV / 2^12.6 = 13.2 uV peak to peak, taken as 6.6 standard deviations: 2.0 uV. The
// table's rows for 16, 64 and 1024 averages (14.6, 15.9, 17.7 bits) follow white noise (+2,
// +3, +5 bits) within 0.3 bits, so other times and averages are scaled by 1 / sqrt(time).
//
// Assumed, for want of a figure: the noise at the input is the same in both ranges; bus
// voltage noise of 0.2 mV; channels of one round are converted in the order shunt, bus,
// temperature; a write to CONFIG or ADC_CONFIG restarts the round; the ALERT pulse of the
// transparent mode lasts 1 us. ENERGY, POWER, the limits and the temperature compensation
// are not modelled: their registers keep their reset values.
import { RegisterChip } from './register-chip.ts';
import type { SenseChipOptions } from './sense-chip.ts';

const CONFIG = 0x00;
const ADC_CONFIG = 0x01;
const SHUNT_CAL = 0x02;
const VSHUNT = 0x04;
const VBUS = 0x05;
const DIETEMP = 0x06;
const CURRENT = 0x07;
const CHARGE = 0x0a;
const DIAG_ALRT = 0x0b;
const DEVICE_ID = 0x3f;

const ADCRANGE = 1 << 4;
const RSTACC = 1 << 14;
const RST = 1 << 15;
const ALATCH = 1 << 15;
const CNVR = 1 << 14;
const APOL = 1 << 12;
const CNVRF = 1 << 1;

const CONVERSION_US = [50, 84, 150, 280, 540, 1052, 2074, 4120];
const AVERAGES = [1, 4, 16, 64, 128, 256, 512, 1024];
const RAW_MAX = 2 ** 19 - 1;
const RAW_MIN = -(2 ** 19);
const NOISE_V = 81.92e-3 / 2 ** 12.6 / 6.6;
const NOISE_US = 1052;
const BUS_NOISE_V = 0.2e-3;
const ALERT_PULSE_S = 1e-6;

/** Register widths in bits; those not listed have 16. */
const WIDE: Record<number, number> = { [VSHUNT]: 24, [VBUS]: 24, [CURRENT]: 24, 0x08: 24, 0x09: 40, [CHARGE]: 40 };
/** Values after power-on where not zero (table 7-3 and the register tables). */
const RESET: Record<number, number> = {
  [ADC_CONFIG]: 0xfb68,
  [SHUNT_CAL]: 0x1000,
  [DIAG_ALRT]: 0x0001,
  0x0c: 0x7fff,
  0x0d: 0x8000,
  0x0e: 0x7fff,
  0x10: 0x7fff,
  0x11: 0xffff,
  0x3e: 0x5449,
  [DEVICE_ID]: 0x2281,
};
const WRITABLE = new Set([CONFIG, ADC_CONFIG, SHUNT_CAL, 0x03, DIAG_ALRT, 0x0c, 0x0d, 0x0e, 0x0f, 0x10, 0x11]);

export class Ina228 extends RegisterChip {
  private charge = 0;
  private roundStart_s = 0;

  constructor(options: SenseChipOptions) {
    super(options);
    this.powerOn();
  }

  powerOn(): void {
    this.registers = new Map(Object.entries(RESET).map(([register, value]) => [Number(register), value]));
    this.charge = 0;
    this.releaseAlert();
    this.restart();
  }

  protected registerBytes(): number[] {
    const register = this.pointer;
    const count = (WIDE[register] ?? 16) / 8;
    let value = this.get(register);
    if (register === DEVICE_ID && this.fault === 'wrong-id') value = 0x1234;
    if (register === VSHUNT || register === VBUS || register === CURRENT) value *= 16;
    if (register === DIAG_ALRT) this.acknowledge();
    const bits = BigInt.asUintN(count * 8, BigInt(Math.trunc(value)));
    return Array.from({ length: count }, (_, i) => Number((bits >> BigInt(8 * (count - 1 - i))) & 0xffn));
  }

  protected writeRegister(register: number, value: number): void {
    if (!WRITABLE.has(register)) return;
    if (register === CONFIG && value & RST) return this.powerOn();
    if (register === CONFIG && value & RSTACC) {
      this.charge = 0;
      this.registers.set(CHARGE, 0);
    }
    if (register === DIAG_ALRT) {
      this.registers.set(register, (value & 0xf000) | (this.get(register) & 0x0fff));
      this.releaseAlert();
    } else this.registers.set(register, register === CONFIG ? value & ~RSTACC : value);
    if (register === CONFIG || register === ADC_CONFIG) {
      this.registers.set(DIAG_ALRT, this.get(DIAG_ALRT) & ~CNVRF);
      this.restart();
    }
  }

  /** Reading DIAG_ALRT takes the flag back and, latched, lets the pin go. */
  private acknowledge(): void {
    this.registers.set(DIAG_ALRT, this.get(DIAG_ALRT) & ~CNVRF);
    this.releaseAlert();
  }

  private releaseAlert(): void {
    this.options.onAlert(!(this.get(DIAG_ALRT) & APOL));
  }

  private now_s(): number {
    return this.options.cycles() / this.options.clock_Hz;
  }

  private restart(): void {
    this.roundStart_s = this.now_s();
    this.plan();
  }

  private channels(): { shunt: boolean; bus: boolean; temperature: boolean; continuous: boolean } {
    const mode = this.get(ADC_CONFIG) >> 12;
    return {
      shunt: (mode & 2) !== 0,
      bus: (mode & 1) !== 0,
      temperature: (mode & 4) !== 0,
      continuous: (mode & 8) !== 0,
    };
  }

  /** Length of each channel's conversion in seconds of true time, 0 where it is off. */
  private times(): { shunt_s: number; bus_s: number; temperature_s: number; sum_s: number; averages: number } {
    const config = this.get(ADC_CONFIG);
    const on = this.channels();
    const second = 1e-6 / (1 + (this.options.errors.oscillator_ppm ?? 0) * 1e-6);
    const time = (enabled: boolean, code: number) => (enabled ? CONVERSION_US[code & 7]! * second : 0);
    const shunt_s = time(on.shunt, config >> 6);
    const bus_s = time(on.bus, config >> 9);
    const temperature_s = time(on.temperature, config >> 3);
    return { shunt_s, bus_s, temperature_s, sum_s: shunt_s + bus_s + temperature_s, averages: AVERAGES[config & 7]! };
  }

  private plan(): void {
    const { sum_s, averages } = this.times();
    const end_s = this.roundStart_s + sum_s * averages;
    this.options.agenda.set(this.slot, sum_s === 0 ? Infinity : end_s * this.options.clock_Hz);
  }

  protected endRound(): void {
    const { inputs, errors, gaussian } = this.options;
    const t = this.times();
    const on = this.channels();
    const end_s = this.roundStart_s + t.sum_s * t.averages;
    if (on.shunt) this.convertShunt(t.shunt_s, t.sum_s, t.averages);
    if (on.bus) {
      const bus_V = inputs.bus_V(end_s) + (gaussian() * BUS_NOISE_V) / Math.sqrt(t.averages);
      this.registers.set(VBUS, clip(Math.round(bus_V / 195.3125e-6), 0));
    }
    if (on.temperature) this.registers.set(DIETEMP, Math.round(inputs.temperature_C(end_s) / 7.8125e-3));
    if (on.shunt) this.calculate(t.sum_s * t.averages * (1 + (errors.oscillator_ppm ?? 0) * 1e-6));
    this.roundStart_s = end_s;
    if (on.continuous) this.plan();
    if (this.fault === 'no-conversion') return;
    this.options.onReady?.(end_s);
    this.announce();
  }

  private convertShunt(shunt_s: number, round_s: number, averages: number): void {
    const { inputs, errors, gaussian } = this.options;
    let sum_V = 0;
    if (shunt_s === round_s)
      sum_V = averages * inputs.shuntMean_V(this.roundStart_s, this.roundStart_s + averages * round_s);
    else {
      for (let i = 0; i < averages; i++) {
        const from_s = this.roundStart_s + i * round_s;
        sum_V += inputs.shuntMean_V(from_s, from_s + shunt_s);
      }
    }
    const noise_V = gaussian() * NOISE_V * Math.sqrt((NOISE_US * 1e-6) / (shunt_s * averages));
    const measured_V =
      (sum_V / averages) * (1 + (errors.gain_ppm ?? 0) * 1e-6) + (errors.offset_nV ?? 0) * 1e-9 + noise_V;
    const step_V = this.get(CONFIG) & ADCRANGE ? 78.125e-9 : 312.5e-9;
    this.registers.set(VSHUNT, clip(Math.round(measured_V / step_V), RAW_MIN));
  }

  /** CURRENT and CHARGE by the chip's own arithmetic and clock. */
  private calculate(round_s: number): void {
    const calibration = this.get(SHUNT_CAL) & 0x7fff;
    const current = calibration === 0 ? 0 : clip(Math.trunc((this.get(VSHUNT) * 4096) / calibration), RAW_MIN);
    this.registers.set(CURRENT, current);
    this.charge += current * round_s;
    this.registers.set(CHARGE, Math.trunc(this.charge));
  }

  private announce(): void {
    const { agenda, cycles, clock_Hz, onAlert } = this.options;
    const control = this.get(DIAG_ALRT) | CNVRF;
    this.registers.set(DIAG_ALRT, control);
    if (!(control & CNVR)) return;
    onAlert((control & APOL) !== 0);
    if (!(control & ALATCH)) agenda.runOnce(() => this.releaseAlert(), cycles() + ALERT_PULSE_S * clock_Hz);
  }
}

function clip(raw: number, min: number): number {
  return Math.max(min, Math.min(RAW_MAX, raw));
}
