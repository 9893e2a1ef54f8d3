// What every emulated sense chip is given and does. Times in seconds.
import type { Agenda } from './chip/agenda.ts';
import type { TwoWireSlave } from './chip/twi.ts';

/** What lies at the chip's pins. */
export interface SensedInputs {
  /** Mean voltage across the shunt from one time to a later one. */
  shuntMean_V(from_s: number, to_s: number): number;
  bus_V(at_s: number): number;
  temperature_C(at_s: number): number;
}

/** Errors of one specimen. */
export interface SpecimenErrors {
  offset_nV?: number;
  gain_ppm?: number;
  /** Its own oscillator: positive runs fast, so conversions end early. */
  oscillator_ppm?: number;
}

export interface SenseChipOptions {
  /** As A0 and A1 make it; 40h (both to ground) where not given. */
  address?: number;
  inputs: SensedInputs;
  errors: SpecimenErrors;
  /** Standard normal numbers. */
  gaussian: () => number;
  agenda: Agenda;
  cycles: () => number;
  clock_Hz: number;
  /** The ALERT pin's level, true high. */
  onAlert: (level: boolean) => void;
  /** A round of conversions that has ended, at its true time. */
  onReady?: (at_s: number) => void;
}

export type SenseFault = 'unplugged' | 'wrong-id' | 'no-conversion' | null;

export interface SenseChip extends TwoWireSlave {
  setFault(fault: SenseFault): void;
  powerOn(): void;
}
