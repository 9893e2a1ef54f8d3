// An ATmega328P at 16 MHz: the instruction core of avr8js with this folder's timers,
// buses and watchdog, sleep, resets and their causes. Data sheet DS40002061.
// Idle time is fast-forwarded to the next entry of the agenda.
import { AVREEPROM, AVRIOPort, CPU, avrInstruction, portBConfig, portCConfig, portDConfig } from 'avr8js';
import { Agenda } from './agenda.ts';
import { executeCorrected, markCorrections } from './corrections.ts';
import { ExternalInterrupt } from './external-interrupt.ts';
import { readIntelHex } from './intel-hex.ts';
import { TIMERS, Timer } from './timer.ts';
import { TwoWire } from './twi.ts';
import type { TwoWireSlave } from './twi.ts';
import { Usart } from './usart.ts';
import { WDRF, Watchdog } from './watchdog.ts';

export const CLOCK_HZ = 16_000_000;
export const EEPROM_BYTES = 1024;
const FLASH_BYTES = 32768;
const SRAM_BYTES = 2048;
const REGISTER_BYTES = 0x100;
const SREG = 0x5f;
const MCUSR = 0x54;
const SMCR = 0x53;
const INTERRUPTS_ON = 0x80;
const SLEEP = 0x9588;
/** What SRAM holds after power-on: anything on the chip, here a pattern that shows what was never written. */
const UNTOUCHED = 0xa7;
const SDA_PIN = 4;
const SCL_PIN = 5;
const SCL_BIT = 1 << 5;

export type ResetCause = 'power' | 'pin' | 'brownout' | 'watchdog';
/** MCUSR flags (section 10.9.1). They add up until software clears them; power-on clears the rest. */
const CAUSE_FLAG: Record<ResetCause, number> = { power: 1, pin: 2, brownout: 4, watchdog: WDRF };

export interface ChipOptions {
  /** The image, Intel HEX text. */
  image: string;
  /** Contents that outlive every reset; changed in place. */
  eeprom: Uint8Array;
  /** Writes to it change nothing: worn out. */
  eepromWorn?: boolean;
  slave: (agenda: Agenda, cycles: () => number) => TwoWireSlave;
  onByte: (byte: number) => void;
  /** A rising edge that the firmware itself puts on SCL, to clock a stuck bus free. */
  onClockEdge: () => void;
}

export class Atmega328p {
  readonly agenda = new Agenda();
  readonly usart: Usart;
  readonly twi: TwoWire;
  /** Cycles since power-on spent asleep, of `cycles` in all. */
  asleepCycles = 0;
  /** Watchdog resets since power-on. */
  bites = 0;
  private readonly cpu: CPU;
  /** Instructions that the core gets wrong, by their place in flash. */
  private readonly marks: Uint8Array;
  private readonly int0: ExternalInterrupt;
  private readonly ports: AVRIOPort[];
  private readonly parts: { reset(): void }[];
  private asleep = false;
  private bitten = false;
  private hung = false;
  /** SREG before the last instruction: interrupts wait for one instruction after they are enabled (7.7). */
  private sregBefore = 0;

  constructor(options: ChipOptions) {
    const cpu = new CPU(readIntelHex(options.image, FLASH_BYTES), SRAM_BYTES);
    this.cpu = cpu;
    this.marks = markCorrections(cpu.progMem);
    // Plain arrays as long as the memory keep the look-up of a hook fast.
    for (let i = 0; i < REGISTER_BYTES + SRAM_BYTES; i++) {
      cpu.readHooks[i] = undefined as never;
      cpu.writeHooks[i] = undefined as never;
    }
    cpu.addClockEvent = (action, cycles) => {
      this.agenda.runOnce(action, cpu.cycles + cycles);
      return action;
    };
    this.ports = [portBConfig, portCConfig, portDConfig].map(
      (port) => new AVRIOPort(cpu, { ...port, externalInterrupts: [] }),
    );
    const timers = TIMERS.map((registers) => new Timer(cpu, this.agenda, registers));
    this.twi = new TwoWire(
      cpu,
      this.agenda,
      options.slave(this.agenda, () => cpu.cycles),
    );
    this.usart = new Usart(cpu, this.agenda, options.onByte);
    this.int0 = new ExternalInterrupt(cpu);
    const watchdog = new Watchdog(cpu, this.agenda, CLOCK_HZ, () => (this.bitten = true));
    this.parts = [...timers, this.twi, this.usart, watchdog];
    const { eeprom } = options;
    new AVREEPROM(cpu, {
      readMemory: (address) => eeprom[address % EEPROM_BYTES]!,
      writeMemory: (address, value) => options.eepromWorn !== true && (eeprom[address % EEPROM_BYTES]! &= value),
      eraseMemory: (address) => options.eepromWorn !== true && (eeprom[address % EEPROM_BYTES] = 0xff),
    });
    this.watchClockPin(options.onClockEdge);
    this.setDataPin(true);
    this.setClockPin(true);
    this.ports[2]!.setPin(2, true);
    this.reset('power');
  }

  get cycles(): number {
    return this.cpu.cycles;
  }

  /** Registers as after that reset (section 10); SRAM keeps what it held, as on the chip. */
  reset(cause: ResetCause): void {
    const { cpu } = this;
    const flags = cause === 'power' ? 0 : cpu.data[MCUSR]! & 0x0f;
    cpu.data.fill(0, 0, REGISTER_BYTES);
    cpu.reset();
    cpu.data[MCUSR] = flags | CAUSE_FLAG[cause];
    if (cause === 'power') cpu.data.fill(UNTOUCHED, REGISTER_BYTES);
    for (const port of this.ports) {
      cpu.writeData(port.portConfig.DDR, 0);
      cpu.writeData(port.portConfig.PORT, 0);
    }
    for (const part of this.parts) part.reset();
    this.asleep = this.bitten = this.hung = false;
    this.sregBefore = 0;
    if (cause === 'watchdog') this.bites++;
  }

  /**
   * Bytes between the end of SRAM and the lowest one that was written since power-on, above the longest
   * stretch that never was: the deepest that the stack has been.
   */
  stackBytes(): number {
    const { data } = this.cpu;
    let longest = 0;
    let stack = 0;
    for (let at = REGISTER_BYTES, run = 0; at < data.length; at++) {
      run = data[at] === UNTOUCHED ? run + 1 : 0;
      if (run <= longest) continue;
      longest = run;
      stack = data.length - at - 1;
    }
    return stack;
  }

  /** As if a disturbance had thrown the CPU off its program: nothing but a reset helps. */
  hang(): void {
    this.hung = true;
  }

  /** The ALERT line, on INT0. */
  setAlertPin(level: boolean): void {
    this.ports[2]!.setPin(2, level);
    this.int0.setLevel(level);
  }

  /** SDA as something on the bus holds it; it idles high by its pull-up. */
  setDataPin(level: boolean): void {
    this.ports[1]!.setPin(SDA_PIN, level);
  }

  /** SCL, likewise. */
  setClockPin(level: boolean): void {
    this.ports[1]!.setPin(SCL_PIN, level);
  }

  /** Runs until that cycle, or a few cycles past it to end an instruction. */
  run(until: number): void {
    const { cpu, agenda, marks } = this;
    const { data, progMem } = cpu;
    // Bound once: an imported name can cost a look-up at each use, and this is the innermost loop.
    const execute = avrInstruction;
    while (cpu.cycles < until) {
      if (agenda.next <= cpu.cycles) {
        agenda.run(cpu.cycles);
        if (this.bitten) this.reset('watchdog');
      }
      if (this.hung) {
        cpu.cycles = Math.ceil(Math.min(agenda.next, until));
        continue;
      }
      if (cpu.nextInterrupt >= 0 && data[SREG]! & this.sregBefore & INTERRUPTS_ON) {
        this.enterInterrupt();
        continue;
      }
      if (this.asleep) {
        const next = Math.min(agenda.next, until);
        const cycles = Math.ceil(next) - cpu.cycles;
        this.asleepCycles += cycles;
        cpu.cycles += cycles;
        continue;
      }
      this.sregBefore = data[SREG]!;
      if (progMem[cpu.pc] === SLEEP) this.fallAsleep();
      const mark = marks[cpu.pc]!;
      if (mark === 0) execute(cpu);
      else executeCorrected(cpu, mark, execute);
    }
  }

  /** Two cycles are the core's own; with these, four, and four more out of sleep (section 7.7.1). */
  private enterInterrupt(): void {
    const { cpu } = this;
    cpu.cycles += this.asleep ? 6 : 2;
    this.asleep = false;
    cpu.tick();
    this.sregBefore = cpu.data[SREG]!;
  }

  private fallAsleep(): void {
    const control = this.cpu.data[SMCR]!;
    if (!(control & 1)) return;
    const mode = (control >> 1) & 7;
    if (mode !== 0) throw new Error(`sleep mode ${mode} is not modelled; idle (0) is`);
    this.asleep = true;
  }

  private watchClockPin(onEdge: () => void): void {
    let high = true;
    this.ports[1]!.addListener(() => {
      const { data } = this.cpu;
      const drivesLow = data[portCConfig.DDR]! & SCL_BIT && !(data[portCConfig.PORT]! & SCL_BIT);
      if (!high && !drivesLow) onEdge();
      high = !drivesLow;
    });
  }
}
