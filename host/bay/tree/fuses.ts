// The current through a blade fuse from the voltage across it: I = U / R. A fuse in
// place is its own shunt. Cold resistances in milliohms, typical values.
//
// regular 2 to 5, 10 to 20 and 30 A: ISO 8820-3 type C, Littelfuse ATOF 287 data
// sheet; 1, 7.5, 25 A: from memory. miniature 15 A: 0.1 mV is 22 mA and 1.0 mV is
// 218 mA, MACS Service Report, June 2017; the other miniature, and all micro and large
// ones: from memory, so their tolerance is wider.

import { current } from '../../say/quantities.ts';
import type { FeedType, TreeNode } from './tree.ts';

export type FuseSource = 'data sheet' | 'published chart' | 'from memory';

/** Where the resistance comes from, for a line that is read. */
export const SOURCE_WORDS: Record<FuseSource, string> = {
  'data sheet': 'from a data sheet',
  'published chart': 'from a published chart',
  'from memory': 'typical, no source',
};

interface FuseValue {
  resistance_mOhm: number;
  source: FuseSource;
}

const sheet = (resistance_mOhm: number): FuseValue => ({ resistance_mOhm, source: 'data sheet' });
const memory = (resistance_mOhm: number): FuseValue => ({ resistance_mOhm, source: 'from memory' });

const TABLE: Partial<Record<FeedType, Record<number, FuseValue>>> = {
  regular: {
    1: memory(123),
    2: sheet(53.5),
    3: sheet(31.1),
    4: sheet(22.8),
    5: sheet(17.85),
    7.5: memory(10.91),
    10: sheet(7.7),
    15: sheet(4.8),
    20: sheet(3.38),
    25: memory(2.52),
    30: sheet(1.97),
    40: memory(1.44),
  },
  miniature: {
    2: memory(53.5),
    3: memory(31.1),
    4: memory(22.8),
    5: memory(16.5),
    7.5: memory(10.6),
    10: memory(7.4),
    15: { resistance_mOhm: 4.57, source: 'published chart' },
    20: memory(3.2),
    25: memory(2.3),
    30: memory(1.85),
  },
  micro: {
    5: memory(17),
    7.5: memory(10.8),
    10: memory(7.6),
    15: memory(4.7),
    20: memory(3.3),
    25: memory(2.5),
    30: memory(2.0),
  },
  large: {
    20: memory(3.2),
    25: memory(2.4),
    30: memory(1.9),
    40: memory(1.3),
    50: memory(1.0),
    60: memory(0.8),
    70: memory(0.7),
    80: memory(0.6),
  },
};

/**
 * Spread of fuses around the typical value, one in twenty outside it: common practice, no source ("unbranded fuses do
 * not follow the charts", MACS 2017).
 */
const TOLERANCE: Record<FuseSource, number> = { 'data sheet': 0.15, 'published chart': 0.2, 'from memory': 0.25 };

/** What a workshop meter's lowest digit and its leads leave open: thermal voltages and a count. */
export const METER_FLOOR_mV = 0.05;

export interface DropReading {
  current_mA: number;
  /** One standard deviation, from the meter's last digit and the spread of fuses. */
  sigma_mA: number;
  /** Limits that hold the true current in about 19 of 20. */
  low_mA: number;
  high_mA: number;
  source: FuseSource;
}

/** Typical cold resistance; null where none is known for that type and rating. */
export function fuseResistance(type: FeedType | null, rating_A: number | null): FuseValue | null {
  if (type === null || rating_A === null) return null;
  return TABLE[type]?.[rating_A] ?? null;
}

/**
 * @param drop_mV across the fuse, either sign: the probes may be the other way round
 * @param step_mV the meter's last digit
 * @returns null where no resistance is known
 * @throws RangeError where no fuse in place can have such a drop
 */
export function currentFromDrop(
  type: FeedType | null,
  rating_A: number | null,
  drop_mV: number,
  step_mV = 0.1,
): DropReading | null {
  const value = fuseResistance(type, rating_A);
  if (value === null) return null;
  if (!Number.isFinite(drop_mV)) throw new RangeError(`${drop_mV} is not a voltage in mV`);
  const current_mA = (Math.abs(drop_mV) / value.resistance_mOhm) * 1000;
  if (current_mA > rating_A! * 1000) {
    throw new RangeError(
      `${drop_mV} mV across a ${type} fuse of ${rating_A} A would be ${(current_mA / 1000).toFixed(1)} A, more than it carries: is the fuse blown, or the meter not on mV?`,
    );
  }
  const sigma_mA = dropSigma_mA(type, rating_A, current_mA, step_mV);
  return {
    current_mA,
    sigma_mA,
    low_mA: Math.max(0, current_mA - 2 * sigma_mA),
    high_mA: current_mA + 2 * sigma_mA,
    source: value.source,
  };
}

/** How sure a drop tells a current of about `current_mA`; Infinity where no resistance is known. */
export function dropSigma_mA(
  type: FeedType | null,
  rating_A: number | null,
  current_mA: number,
  step_mV = 0.1,
): number {
  const value = fuseResistance(type, rating_A);
  if (value === null) return Infinity;
  const reading_mA = (Math.max(step_mV / 2, (METER_FLOOR_mV * step_mV) / 0.1) / value.resistance_mOhm) * 1000;
  return Math.hypot(reading_mA, (TOLERANCE[value.source] / 2) * current_mA);
}

export interface BoxRow {
  name: string;
  drop_mV: number;
  reading: DropReading | null;
}

export interface BoxTable {
  rows: BoxRow[];
  /** Sum over fuses of which none feeds another one of the table. */
  sum_mA: number;
  sigma_mA: number;
  measured_mA: number | null;
  /** What the fuses do not account for; null without a measured total. */
  unaccounted_mA: number | null;
  sentence: string;
}

/**
 * All drops of a box as currents, and what of a measured total they account for. A fuse
 * behind another one of the list is shown but not added again.
 * @param feeders for each reading, the names of the fuses above it
 */
export function boxTable(
  readings: { node: TreeNode; above: string[]; drop_mV: number }[],
  measured_mA: number | null,
  step_mV = 0.1,
): BoxTable {
  const rows = readings.map(({ node, drop_mV }) => ({
    name: node.name,
    drop_mV,
    reading: currentFromDrop(node.type, node.rating_A, drop_mV, step_mV),
  }));
  const read = new Set(rows.filter((row) => row.reading !== null).map((row) => row.name));
  const added = rows.filter((row, i) => row.reading !== null && !readings[i]!.above.some((name) => read.has(name)));
  const sum_mA = added.reduce((sum, row) => sum + row.reading!.current_mA, 0);
  const sigma_mA = Math.sqrt(added.reduce((sum, row) => sum + row.reading!.sigma_mA ** 2, 0));
  const unaccounted_mA = measured_mA === null ? null : measured_mA - sum_mA;
  return {
    rows,
    sum_mA,
    sigma_mA,
    measured_mA,
    unaccounted_mA,
    sentence: inWords(
      sum_mA,
      sigma_mA,
      measured_mA,
      rows.filter((row) => row.reading === null).map((row) => row.name),
    ),
  };
}

function inWords(sum_mA: number, sigma_mA: number, measured_mA: number | null, unknown: string[]): string {
  const doubt = unknown.length === 0 ? '' : ` No resistance is known for ${unknown.join(', ')}.`;
  const sum = `The fuses carry ${current(sum_mA)} in sum, give or take ${current(2 * sigma_mA)}.`;
  if (measured_mA === null) return sum + doubt;
  const rest = measured_mA - sum_mA;
  const open = Math.max(10, 2 * sigma_mA);
  if (Math.abs(rest) <= open) return `${sum} That accounts for the ${current(measured_mA)} measured.${doubt}`;
  if (rest > 0)
    return `${sum} Of the ${current(measured_mA)} measured, ${current(rest)} flow somewhere else: a fuse not read, or a wire before the box.${doubt}`;
  return `${sum} That is more than the ${current(measured_mA)} measured: the car was more awake, or a reading is wrong.${doubt}`;
}
