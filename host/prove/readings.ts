// What a new board told while it was proved, step by step, and what the meter showed beside it: all
// that is judged.
import type { Hello, VoltageReading, WindowReading } from '../contract/capture.ts';
import { WINDOW_FLAG } from '../contract/capture.ts';

/**
 * Times at which the board is listened to, in their order; each with its own load. `clock`: only where the
 * board's clock seems off.
 */
export const STEPS = ['rest', 'series', 'one', 'both', 'moved', 'clock'] as const;
export type Step = (typeof STEPS)[number];

/** What a meter is asked for. */
export type MeterId =
  | 'clamps_V'
  | 'series_A'
  | 'one_A'
  | 'both_A'
  | 'shunt_mV'
  | 'voltageLead_mV'
  | 'supply_V'
  | 'chipSupply_V'
  | 'sda_V'
  | 'scl_V'
  | 'room_C'
  /** 1: the meter jumped while the leads were moved; 0: it did not. */
  | 'jumps';

/** One step's readings, summed up. Currents in mA. */
export interface Listened {
  windows: number;
  mean_mA: number;
  /** Least and most of single conversions. */
  least_mA: number;
  most_mA: number;
  /** Standard deviation of one conversion, by the spans of the windows. */
  noise_mA: number;
  /** Windows in which the wide range was in use, and in which a conversion was missed. */
  wide: number;
  missed: number;
  /** Of the last voltage line; null where none came, or the chip has no thermometer. */
  bus_V: number | null;
  chip_C: number | null;
}

/** What the board told since the proof began. */
export interface Told {
  /** The last hello; null where none ever came. */
  hello: Hello | null;
  /** Codes of the status lines, in their order. */
  statuses: readonly string[];
  /** It booted without being asked. */
  boots: number;
  /** Its clock against the computer's: seconds of each, and how sure the difference is. Null: not known yet. */
  clock: { board_s: number; host_s: number; doubt_s: number } | null;
}

export interface Proof {
  told: Told;
  listened: Partial<Record<Step, Listened>>;
  meter: Partial<Record<MeterId, number>>;
  /** Whether the certificate was kept by the board; null: not written yet. */
  stored: boolean | null;
}

export const emptyProof = (): Proof => ({
  told: { hello: null, statuses: [], boots: 0, clock: null },
  listened: {},
  meter: {},
  stored: null,
});

/** Mean span of 47 normal numbers, in standard deviations (tables of control charts: 3.93 for 25, 4.50 for 50). */
const SPAN_OF_WINDOW = 4.45;

/** Sums one step's readings up. Without windows all currents are 0. */
export function listened(windows: readonly WindowReading[], voltages: readonly VoltageReading[]): Listened {
  const mean = (of: (window: WindowReading) => number) =>
    windows.length === 0 ? 0 : windows.reduce((sum, window) => sum + of(window), 0) / windows.length / 1000;
  const having = (flag: number) => windows.filter(({ flags }) => (flags & flag) !== 0).length;
  const last = voltages.at(-1);
  return {
    windows: windows.length,
    mean_mA: mean(({ mean_uA }) => mean_uA),
    least_mA: windows.length === 0 ? 0 : Math.min(...windows.map(({ min_uA }) => min_uA)) / 1000,
    most_mA: windows.length === 0 ? 0 : Math.max(...windows.map(({ max_uA }) => max_uA)) / 1000,
    noise_mA: mean(({ min_uA, max_uA }) => max_uA - min_uA) / SPAN_OF_WINDOW,
    wide: having(WINDOW_FLAG.wideRange),
    missed: having(WINDOW_FLAG.conversionMissed),
    bus_V: last === undefined ? null : last.bus_mV / 1000,
    chip_C: last === undefined || Number.isNaN(last.temp_mC) ? null : last.temp_mC / 1000,
  };
}
