// The columns of an exported Parquet file; host/fleet/SPEC.md says what each means.

import { crc32 } from 'node:zlib';
import { newVoltageColumns, newWindowColumns } from '../format/blocks.ts';
import type { ROW_STREAMS } from '../read/rows.ts';

/** Key of the file's metadata under which everything that is no reading stands, as JSON. */
export const FACTS_KEY = 'nightdraw';
export const PARQUET_FORMAT = 'nightdraw rows 1';

export interface ParquetColumn {
  name: string;
  type: 'STRING' | 'INT32' | 'INT64' | 'DOUBLE';
  /** How its values are packed; without: by a dictionary where that is shorter. */
  encoding?: 'DELTA_BINARY_PACKED' | 'PLAIN';
}

// A dictionary would take -0 for 0, so that doubles have none.
export const PARQUET_COLUMNS: readonly ParquetColumn[] = [
  { name: 'stream', type: 'STRING' },
  { name: 'run', type: 'INT32' },
  { name: 't_s', type: 'DOUBLE', encoding: 'PLAIN' },
  { name: 'current_mA', type: 'DOUBLE', encoding: 'PLAIN' },
  { name: 'min_mA', type: 'DOUBLE', encoding: 'PLAIN' },
  { name: 'max_mA', type: 'DOUBLE', encoding: 'PLAIN' },
  { name: 'voltage_V', type: 'DOUBLE', encoding: 'PLAIN' },
  { name: 'seq', type: 'INT64', encoding: 'DELTA_BINARY_PACKED' },
  { name: 't_us', type: 'INT64', encoding: 'DELTA_BINARY_PACKED' },
  { name: 'dur_us', type: 'INT64' },
  { name: 'count', type: 'INT64' },
  { name: 'mean_uA', type: 'INT32' },
  { name: 'min_uA', type: 'INT32' },
  { name: 'max_uA', type: 'INT32' },
  { name: 'charge_nC', type: 'INT64', encoding: 'DELTA_BINARY_PACKED' },
  { name: 'flags', type: 'INT32' },
  { name: 'units', type: 'INT32' },
  { name: 'bus_mV', type: 'INT32' },
  { name: 'temp_mC', type: 'INT32' },
  { name: 'dropped', type: 'INT64' },
  { name: 'code', type: 'STRING' },
  { name: 'detail', type: 'INT64' },
];

/** Columns of numbers that a reading is made of again, stream by stream; the others follow from them. */
export const OWN_COLUMNS: Record<(typeof ROW_STREAMS)[number], readonly string[]> = {
  window: Object.keys(newWindowColumns(0)),
  voltage: Object.keys(newVoltageColumns(0)),
  raw: ['seq', 't_us', 'units', 'flags'],
  status: ['seq', 't_us', 'detail'],
  point: ['t_s', 'current_mA', 'min_mA', 'max_mA', 'voltage_V'],
};

/**
 * Check value of a row group: its own columns as doubles one after the other, NaN where there is none. The file has
 * none itself.
 */
export function checkOf(columns: readonly Float64Array[]): number {
  return columns.reduce(
    (crc, values) => crc32(new Uint8Array(values.buffer, values.byteOffset, values.byteLength), crc),
    0,
  );
}

/** As doubles with one spelling of NaN. */
export function asDoubles(values: ArrayLike<unknown>): Float64Array {
  const doubles = new Float64Array(values.length);
  for (let i = 0; i < doubles.length; i++) {
    const value = values[i];
    doubles[i] = value === null || value === undefined || Number.isNaN(value) ? NaN : Number(value);
  }
  return doubles;
}
