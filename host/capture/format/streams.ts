// The streams of a recorded capture, each as what a writer and a recorder that goes on
// need of it: readings to block, block to readings, and how many make a large one.

import {
  decodeVoltage,
  decodeWindows,
  encodeVoltage,
  encodeWindows,
  newVoltageColumns,
  newWindowColumns,
  STREAM,
} from './blocks.ts';
import type { VoltageColumns, WindowColumns } from './blocks.ts';
import { decodeRaw, encodeRaw, linesOfColumns, newRawColumns, rawCount, rawCovered_us } from './raw-blocks.ts';
import type { RawReading, Reading, VoltageReading, WindowReading } from '../../contract/capture.ts';

/** Readings in a merged block: 205 s of windows, some 30 kB. */
export const MERGED = 4096;

/** Raw conversions in a merged block: 17 s of them, some 25 kB. */
export const MERGED_RAW = 16_384;

/** A block's row as far as its bytes are read. */
export interface BlockBytes {
  count: number;
  crc32: number;
  data: Buffer;
}

export interface Stream<T extends Reading> {
  stream: number;
  kind: T['kind'];
  /** So many in sum are merged into one block. */
  merged: number;
  /** What column `count` of table `block` counts. */
  count(readings: readonly T[]): number;
  first_us(reading: T): number;
  /** Time that the readings cover, microseconds. */
  covered_us(readings: readonly T[]): number;
  encode(readings: readonly T[]): Buffer;
  decode(block: BlockBytes): T[];
}

export const WINDOWS: Stream<WindowReading> = {
  stream: STREAM.windows,
  kind: 'window',
  merged: MERGED,
  count: (readings) => readings.length,
  first_us: (reading) => reading.t_us - reading.dur_us,
  covered_us: (readings) => readings.reduce((sum, { dur_us }) => sum + dur_us, 0),
  encode: encodeWindows,
  decode({ count, crc32, data }) {
    const columns = newWindowColumns(count);
    decodeWindows(data, crc32, count, columns, 0);
    return Array.from({ length: count }, (_, i) => windowAt(columns, i));
  },
};

export const VOLTAGES: Stream<VoltageReading> = {
  stream: STREAM.voltage,
  kind: 'voltage',
  merged: MERGED,
  count: (readings) => readings.length,
  first_us: (reading) => reading.t_us,
  covered_us: () => 0,
  encode: encodeVoltage,
  decode({ count, crc32, data }) {
    const columns = newVoltageColumns(count);
    decodeVoltage(data, crc32, count, columns, 0);
    return Array.from({ length: count }, (_, i) => voltageAt(columns, i));
  },
};

export const RAW: Stream<RawReading> = {
  stream: STREAM.raw,
  kind: 'raw',
  merged: MERGED_RAW,
  count: rawCount,
  first_us: (reading) => reading.samples[0]!.t_us,
  covered_us: rawCovered_us,
  encode: encodeRaw,
  decode({ count, crc32, data }) {
    const columns = newRawColumns(count);
    decodeRaw(data, crc32, count, columns);
    return linesOfColumns(columns);
  },
};

export function windowColumns(readings: readonly WindowReading[]): WindowColumns {
  const columns = newWindowColumns(readings.length);
  for (const key of Object.keys(columns) as (keyof WindowColumns)[])
    readings.forEach((reading, i) => (columns[key][i] = reading[key]));
  return columns;
}

export function windowAt(c: WindowColumns, i: number): WindowReading {
  return {
    kind: 'window',
    seq: c.seq[i]!,
    t_us: c.t_us[i]!,
    dur_us: c.dur_us[i]!,
    count: c.count[i]!,
    mean_uA: c.mean_uA[i]!,
    min_uA: c.min_uA[i]!,
    max_uA: c.max_uA[i]!,
    charge_nC: c.charge_nC[i]!,
    flags: c.flags[i]!,
  };
}

export function voltageAt(c: VoltageColumns, i: number): VoltageReading {
  return {
    kind: 'voltage',
    seq: c.seq[i]!,
    t_us: c.t_us[i]!,
    bus_mV: c.bus_mV[i]!,
    temp_mC: c.temp_mC[i]!,
    dropped: c.dropped[i]!,
  };
}
