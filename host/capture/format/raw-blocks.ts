// A block of raw conversions: thousands of them in a byte or two each, quick to read
// back. SPEC.md, "Raw blocks", is the byte format that this file writes and reads.

import { PACKING, unpack } from './blocks.ts';
import { PADDING_BYTES, putPacked, takePacked } from './packed.ts';
import { ByteSink, unzigzag, zigzag } from './planes.ts';
import type { ByteSource } from './planes.ts';
import type { RawReading } from '../../contract/capture.ts';

/** A longer time between two conversions is kept as the time itself. */
export const STEP_MAX_us = 0xffff;

/** Columns of raw conversions; all of one length. Units as in `RawSample`. */
export interface RawColumns {
  /** Number of the line that brought it. */
  seq: Float64Array;
  t_us: Float64Array;
  units: Int32Array;
  flags: Uint8Array;
}

export function newRawColumns(length: number): RawColumns {
  return {
    seq: new Float64Array(length),
    t_us: new Float64Array(length),
    units: new Int32Array(length),
    flags: new Uint8Array(length),
  };
}

/** Conversions in lines. */
export const rawCount = (lines: readonly RawReading[]): number =>
  lines.reduce((sum, line) => sum + line.samples.length, 0);

/** Time between conversions that follow one another, summed: what the lines cover. */
export function rawCovered_us(lines: readonly RawReading[]): number {
  let covered_us = 0,
    before_us = Infinity;
  for (const { samples } of lines) {
    for (const { t_us } of samples) {
      const step_us = t_us - before_us;
      if (step_us >= 0 && step_us <= STEP_MAX_us) covered_us += step_us;
      before_us = t_us;
    }
  }
  return covered_us;
}

/** Lines alike in length whose numbers follow one another, as `[lines, samples in each, jump of the number]`. */
function putLines(sink: ByteSink, lines: readonly RawReading[]): void {
  const runs: [number, number, number][] = [];
  let next = 0;
  for (const { seq, samples } of lines) {
    const open = runs[runs.length - 1];
    if (open !== undefined && seq === next && samples.length === open[1]) open[0]++;
    else runs.push([1, samples.length, seq - next]);
    next = seq + 1;
  }
  sink.varint(runs.length);
  for (const [count, length, jump] of runs) {
    sink.varint(count);
    sink.varint(length);
    sink.varint(zigzag(jump));
  }
}

function putFlags(sink: ByteSink, flags: Uint8Array): void {
  const starts: number[] = [];
  for (let i = 0; i < flags.length; i++) if (i === 0 || flags[i] !== flags[i - 1]) starts.push(i);
  sink.varint(starts.length);
  starts.forEach((start, k) => {
    sink.varint((starts[k + 1] ?? flags.length) - start);
    sink.byte(flags[start]!);
  });
}

/** Times as steps; what is no step of some microseconds stands ahead, as a place and a leap. */
function putTimes(sink: ByteSink, t_us: Float64Array): void {
  const steps = new Int32Array(t_us.length);
  const leaps: number[] = [];
  for (let i = 0; i < t_us.length; i++) {
    const step_us = t_us[i]! - (i === 0 ? 0 : t_us[i - 1]!);
    const small = i > 0 && step_us >= 0 && step_us <= STEP_MAX_us;
    if (!small) leaps.push(i);
    // A leap's own step is not read; the one before it widens no group.
    steps[i] = small ? step_us : i > 0 ? steps[i - 1]! : 0;
  }
  if (steps.length > 1) steps[0] = steps[1]!;
  sink.varint(leaps.length);
  let before = 0;
  for (const i of leaps) {
    sink.varint(i - before);
    sink.varint(zigzag(t_us[i]! - (i === 0 ? 0 : t_us[i - 1]!)));
    before = i;
  }
  putPacked(sink, steps);
}

/** @param lines at least one, in order */
export function encodeRaw(lines: readonly RawReading[]): Buffer {
  const columns = columnsOfLines(lines);
  const sink = new ByteSink();
  sink.byte(PACKING.plain);
  putLines(sink, lines);
  putFlags(sink, columns.flags);
  putTimes(sink, columns.t_us);
  putPacked(sink, columns.units);
  for (let i = 0; i < PADDING_BYTES; i++) sink.byte(0);
  return Buffer.from(sink.taken());
}

function columnsOfLines(lines: readonly RawReading[]): RawColumns {
  const columns = newRawColumns(rawCount(lines));
  let at = 0;
  for (const { seq, samples } of lines) {
    for (const { t_us, units, flags } of samples) {
      columns.seq[at] = seq;
      columns.t_us[at] = t_us;
      columns.units[at] = units;
      columns.flags[at++] = flags;
    }
  }
  return columns;
}

/** The lines that columns came in. */
export function linesOfColumns({ seq, t_us, units, flags }: RawColumns): RawReading[] {
  const lines: RawReading[] = [];
  for (let i = 0; i < seq.length; i++) {
    let line = lines[lines.length - 1];
    if (line === undefined || line.seq !== seq[i])
      lines.push((line = { kind: 'raw', seq: seq[i]!, t_us: 0, samples: [] }));
    line.t_us = t_us[i]!;
    line.samples.push({ t_us: t_us[i]!, units: units[i]!, flags: flags[i]! });
  }
  return lines;
}

/** Steps of a block while it is read; grown, never shrunk. */
let scratch = new Int32Array(0);

/**
 * Reads a block of `count` conversions into the beginning of `out`; with `values`, its `seq` and `flags` are left as
 * they are.
 */
export function decodeRaw(
  data: Uint8Array,
  crc: number,
  count: number,
  out: RawColumns,
  what: 'all' | 'values' = 'all',
): void {
  const source = unpack(data, crc);
  takeLines(source, count, what === 'all' ? out.seq : null);
  takeFlags(source, count, what === 'all' ? out.flags : null);
  takeTimes(source, count, out.t_us);
  takePacked(source, count, out.units);
}

function takeLines(source: ByteSource, count: number, seq: Float64Array | null): void {
  let next = 0,
    at = 0;
  for (let runs = source.varint(); runs > 0; runs--) {
    const lines = source.varint(),
      length = source.varint();
    next += unzigzag(source.varint());
    if (at + lines * length > count || lines > count)
      throw new Error('a block holds more conversions than its row tells');
    if (seq !== null)
      for (let line = 0; line < lines; line++) seq.fill(next + line, at + line * length, at + (line + 1) * length);
    next += lines;
    at += lines * length;
  }
  if (at !== count) throw new Error('a block holds fewer conversions than its row tells');
}

function takeFlags(source: ByteSource, count: number, flags: Uint8Array | null): void {
  let at = 0;
  for (let runs = source.varint(); runs > 0; runs--) {
    const length = source.varint();
    const value = source.byte();
    flags?.fill(value, at, Math.min(count, at + length));
    at += length;
  }
}

function takeTimes(source: ByteSource, count: number, t_us: Float64Array): void {
  const places: number[] = [],
    leaps: number[] = [];
  for (let n = source.varint(), at = 0; n > 0; n--) {
    at += source.varint();
    places.push(at);
    leaps.push(unzigzag(source.varint()));
  }
  if (scratch.length < count) scratch = new Int32Array(count);
  const steps = scratch;
  takePacked(source, count, steps);
  let now = 0;
  for (let k = 0, i = 0; i < count; k++) {
    // Up to the next leap, steps alone.
    const leap = Math.min(places[k] ?? count, count);
    for (; i < leap; i++) t_us[i] = now += steps[i]!;
    if (i < count) t_us[i++] = now += leaps[k]!;
  }
}
