// Every reading of a capture as rows of plain columns, each with its place on the trace
// and its current in mA: what table-like exports are made of.

import { ofEachRun } from './layout.ts';
import type { Layout } from './layout.ts';
import { newRawColumns } from '../format/raw-blocks.ts';
import type { BlockPlace, Stored } from './stored.ts';
import type { StatusReading } from '../../contract/capture.ts';
import { corrected, placedWindows } from './window-trace.ts';

export const ROW_STREAMS = ['window', 'voltage', 'raw', 'status', 'point'] as const;

/** Some rows of one stream and one run. */
export interface Rows {
  stream: (typeof ROW_STREAMS)[number];
  /** 0 for points of an imported capture. */
  run: number;
  length: number;
  /**
   * By name, all of `length`; NaN where a number is missing. `t_s` counts from the first sample; points have their own.
   */
  columns: Record<string, ArrayLike<number> | readonly string[]>;
}

/** Rows at once, at most but for whole blocks of raw conversions. */
export const ROWS_AT_ONCE = 131_072;

/** @yields points, or run by run its windows, voltages, raw conversions and statuses, each ascending in time */
export function* rowsOf(stored: Stored, layout: Layout): Generator<Rows> {
  if (stored.info().kind === 'imported') {
    yield* pointRows(stored, layout);
    return;
  }
  const windows = ofEachRun(layout.blocks),
    voltages = ofEachRun(layout.voltages),
    raw = ofEachRun(layout.raw),
    statuses = ofEachRun(stored.statuses());
  for (const { id } of layout.runs) {
    yield* inParts('window', id, windowColumns(stored, layout, windows.get(id) ?? []));
    yield* inParts('voltage', id, voltageColumns(stored, layout, voltages.get(id) ?? [], id));
    yield* rawRows(stored, layout, raw.get(id) ?? [], id);
    yield* inParts('status', id, statusColumns(layout, id, statuses.get(id) ?? []));
  }
}

function* inParts(stream: Rows['stream'], run: number, columns: Rows['columns']): Generator<Rows> {
  const length = columns['t_s']!.length;
  for (let from = 0; from < length; from += ROWS_AT_ONCE) {
    const to = Math.min(from + ROWS_AT_ONCE, length);
    const part: Rows['columns'] = {};
    for (const [name, values] of Object.entries(columns as Record<string, Float64Array | string[]>))
      part[name] = values.slice(from, to);
    yield { stream, run, length: to - from, columns: part };
  }
}

function windowColumns(stored: Stored, layout: Layout, blocks: readonly BlockPlace[]): Rows['columns'] {
  const { columns, start_s, mean_mA, slices } = placedWindows(stored, layout, blocks);
  return {
    ...columns,
    t_s: start_s,
    current_mA: mean_mA,
    min_mA: corrected(columns.min_uA, slices),
    max_mA: corrected(columns.max_uA, slices),
  };
}

function voltageColumns(stored: Stored, layout: Layout, blocks: readonly BlockPlace[], run: number): Rows['columns'] {
  const columns = stored.voltages(blocks);
  return { ...columns, t_s: placed(layout, run, columns.t_us), voltage_V: columns.bus_mV.map((value) => value / 1000) };
}

function* rawRows(stored: Stored, layout: Layout, blocks: readonly BlockPlace[], run: number): Generator<Rows> {
  const { perUnit_mA, atZero_mA } = layout.correction.get(run)!;
  for (const block of blocks) {
    const columns = newRawColumns(block.count);
    stored.raw(block, columns);
    const current_mA = Float64Array.from(columns.units, (units) => units * perUnit_mA + atZero_mA);
    yield {
      stream: 'raw',
      run,
      length: block.count,
      columns: { ...columns, t_s: placed(layout, run, columns.t_us), current_mA },
    };
  }
}

function statusColumns(layout: Layout, run: number, own: readonly StatusReading[]): Rows['columns'] {
  const t_us = Float64Array.from(own, (status) => status.t_us);
  return {
    seq: Float64Array.from(own, ({ seq }) => seq),
    t_us,
    t_s: placed(layout, run, t_us),
    code: own.map(({ code }) => code),
    detail: Float64Array.from(own, ({ detail }) => detail),
  };
}

function* pointRows(stored: Stored, { blocks }: Layout): Generator<Rows> {
  for (const block of blocks) {
    const { t_s, current_mA, min_mA, max_mA, voltage_V } = stored.points([block]);
    const more = Object.entries({ min_mA, max_mA, voltage_V }).filter(
      (entry): entry is [string, Float64Array] => entry[1] !== null,
    );
    yield { stream: 'point', run: 0, length: block.count, columns: { t_s, current_mA, ...Object.fromEntries(more) } };
  }
}

function placed({ axis, zero_s }: Layout, run: number, t_us: Float64Array): Float64Array {
  const t_s = new Float64Array(t_us.length);
  axis.get(run)!.place(t_us, t_us.length, t_s, 0, zero_s);
  return t_s;
}
