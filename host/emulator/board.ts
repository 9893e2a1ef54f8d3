// The emulated board without any port: chip, sense chip and modelled car wired
// together. Runs in device time as fast as it can; the caller paces it.
import { Atmega328p, CLOCK_HZ, EEPROM_BYTES } from './chip/atmega328p.ts';
import type { ResetCause } from './chip/atmega328p.ts';
import { Car } from './car/car.ts';
import type { CarSpec } from './car/spec.ts';
import { identityBlock } from './identity.ts';
import { Ina226 } from './ina226.ts';
import { Ina228 } from './ina228.ts';
import { gaussian, seededRandom } from './random.ts';
import { RefusingSlave } from './refusing.ts';
import type { SenseChip, SensedInputs, SenseFault, SpecimenErrors } from './sense-chip.ts';

/** The board's shunt, as BOARD.md has it. */
export const SHUNT_OHM = 0.005;

/** A real oscillator is off by up to 5000 ppm; a whole number of windows must not depend on it. */
const OSCILLATOR_PPM = 1300;
/** A chip stopped in the middle of a byte lets SDA go within nine clocks. */
const FREEING_CLOCKS = 9;

/**
 * `sda-held`, `scl-held`: held low for good. `sda-mid-byte`: until the firmware clocks the
 * bus free. The others are the sense chip's.
 */
export type BoardFault = SenseFault | 'sda-held' | 'scl-held' | 'sda-mid-byte';

/** What was built otherwise than drawn. */
export interface Wiring {
  /** Of the sense chip on the bus, as A0 and A1 make it. */
  address?: number;
  /** Its ALERT goes nowhere; R4 holds the microcontroller's pin up. */
  alertOpen?: boolean;
  /** The EEPROM keeps nothing that is written. */
  eepromWorn?: boolean;
}

export interface EmulatedBoardOptions {
  /** Firmware image, Intel HEX text. */
  image: string;
  car: CarSpec;
  seed: number;
  /** Board number in its EEPROM. */
  id: number;
  /** Declared in the hello; this class itself knows no host time. */
  speed: number;
  onByte: (byte: number) => void;
  /** The true time of each end of a conversion, for checks of the board's time stamps. */
  onConversion?: (at_s: number) => void;
  /** Draws the current instead of `car`: one whose fuses can be pulled. */
  switched?: { charge_mC: (t_s: number) => number };
  errors?: SpecimenErrors;
  /** `ina228` where not given. */
  sensor?: 'ina228' | 'ina226';
  /** What lies at the sense chip's pins, in place of what the car makes there. */
  pins?: SensedInputs;
  wiring?: Wiring;
  /** Of the sense chip, over what the data sheet has: 0 is a chip without noise. 1 where not given. */
  noise?: number;
}

export interface BoardStats {
  device_s: number;
  /** Share of device time that the CPU was not asleep. */
  awakeShare: number;
  watchdogBites: number;
  bytesSent: number;
}

export class EmulatedBoard {
  readonly car: Car;
  private readonly chip: Atmega328p;
  private sense!: SenseChip;
  private refusing!: RefusingSlave;
  private clocksUntilFree = 0;
  private bytesSent = 0;
  /** Where the last run was to end; runs end within an instruction after that. */
  private target = 0;

  constructor(options: EmulatedBoardOptions) {
    this.car = new Car(options.car, seededRandom(options.seed));
    const eeprom = new Uint8Array(EEPROM_BYTES).fill(0xff);
    eeprom.set(identityBlock(options.id, options.speed));
    let setAlert = (_level: boolean) => {};
    this.chip = new Atmega328p({
      image: options.image,
      eeprom,
      ...(options.wiring?.eepromWorn === true && { eepromWorn: true }),
      slave: (agenda, cycles) => {
        const normal = gaussian(seededRandom(options.seed + 1));
        const noise = options.noise ?? 1;
        this.sense = new (options.sensor === 'ina226' ? Ina226 : Ina228)({
          inputs: options.pins ?? this.inputs(options.switched ?? this.car),
          ...(options.wiring?.address !== undefined && { address: options.wiring.address }),
          errors: { oscillator_ppm: OSCILLATOR_PPM, ...options.errors },
          gaussian: () => normal() * noise,
          agenda,
          cycles,
          clock_Hz: CLOCK_HZ,
          onAlert: (level) => setAlert(level),
          ...(options.onConversion && { onReady: options.onConversion }),
        });
        return (this.refusing = new RefusingSlave(this.sense));
      },
      onByte: (byte) => {
        this.bytesSent++;
        options.onByte(byte);
      },
      onClockEdge: () => this.clockEdge(),
    });
    if (options.wiring?.alertOpen !== true) setAlert = (level) => this.chip.setAlertPin(level);
  }

  /** Device time since power-on; resets do not set it back. */
  get time_s(): number {
    return this.chip.cycles / CLOCK_HZ;
  }

  /** Bit rate that the firmware has set. */
  get baud(): number {
    return CLOCK_HZ / this.chip.usart.bitCycles;
  }

  runFor(device_s: number): void {
    this.target += device_s * CLOCK_HZ;
    this.chip.run(this.target);
  }

  /** Bytes from the host, at the line's rate. */
  send(bytes: Iterable<number>): void {
    this.chip.usart.send(bytes);
  }

  /** `power` also cuts the sense chip's; time and EEPROM go on. */
  reset(cause: Exclude<ResetCause, 'watchdog'>): void {
    if (cause === 'power') this.sense.powerOn();
    this.chip.reset(cause);
  }

  /** Null ends a fault. */
  setFault(fault: BoardFault): void {
    const held = fault === 'sda-held' || fault === 'scl-held' || fault === 'sda-mid-byte';
    this.clocksUntilFree = fault === 'sda-mid-byte' ? FREEING_CLOCKS : 0;
    this.sense.setFault(held ? null : fault);
    this.holdData(held && fault !== 'scl-held');
    this.chip.setClockPin(fault !== 'scl-held');
    this.chip.twi.setHeld(held);
  }

  /** The sense chip refuses one byte of those that it acknowledges, after so many more. */
  refuseByteAfter(bytes: number): void {
    this.refusing.refuseAfter(bytes);
  }

  /** Deepest that the stack has been since power-on. */
  stackBytes(): number {
    return this.chip.stackBytes();
  }

  /** As if a disturbance had thrown the CPU off its program. */
  hang(): void {
    this.chip.hang();
  }

  stats(): BoardStats {
    const { cycles, asleepCycles, bites } = this.chip;
    return {
      device_s: this.time_s,
      awakeShare: cycles === 0 ? 1 : 1 - asleepCycles / cycles,
      watchdogBites: bites,
      bytesSent: this.bytesSent,
    };
  }

  private inputs(drawn: { charge_mC: (t_s: number) => number }) {
    const { car } = this;
    return {
      shuntMean_V: (from_s: number, to_s: number) =>
        ((drawn.charge_mC(to_s) - drawn.charge_mC(from_s)) / (to_s - from_s) / 1000) * SHUNT_OHM,
      bus_V: (at_s: number) => car.voltage_V(at_s),
      temperature_C: (at_s: number) => car.temperature_C(at_s),
    };
  }

  private holdData(held: boolean): void {
    this.chip.setDataPin(!held);
    this.chip.twi.setHeld(held);
  }

  private clockEdge(): void {
    if (this.clocksUntilFree === 0) return;
    this.clocksUntilFree--;
    if (this.clocksUntilFree === 0) this.holdData(false);
  }
}
