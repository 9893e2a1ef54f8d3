// A block: some thousand readings as one compact run of bytes, and back. SPEC.md,
// "Blocks", is the byte format that this file writes and reads.

import { crc32, deflateRawSync, inflateRawSync } from 'node:zlib';
import { ByteSink, ByteSource, putDecimal, putWhole, takePlane } from './planes.ts';
import type { VoltageReading, WindowReading } from '../../contract/capture.ts';

/** Which kind of reading a block holds: column `stream` of table `block`. */
export const STREAM = { windows: 1, voltage: 2, points: 3, raw: 4 } as const;

/** First byte of a block: how the planes behind it are packed. */
export const PACKING = { plain: 0, deflate: 1 } as const;

/** No block that is written unpacks to a fifth of this; one that would is a trap for the memory. */
const UNPACKED_BYTES_MOST = 32 << 20;

/** Room for most blocks at once: zlib's 16 KiB make four pieces of each, and to unpack takes four times as long. */
const PLAIN_BYTES = 64 * 1024;

/** A window's predicted charge beyond this (310 Ah) is nonsense, and its residual would not be exact. */
const PREDICTED_CHARGE_MAX_nC = 2 ** 50;

/** Columns of window readings; all of one length. Units as in `WindowReading`. */
export interface WindowColumns {
  seq: Float64Array;
  t_us: Float64Array;
  dur_us: Float64Array;
  count: Float64Array;
  mean_uA: Float64Array;
  min_uA: Float64Array;
  max_uA: Float64Array;
  charge_nC: Float64Array;
  flags: Float64Array;
}

export interface VoltageColumns {
  seq: Float64Array;
  t_us: Float64Array;
  bus_mV: Float64Array;
  temp_mC: Float64Array;
  dropped: Float64Array;
}

/** Columns of imported points. A column that the source lacks is null; a blank cell is NaN. */
export interface PointColumns {
  t_s: Float64Array;
  current_mA: Float64Array;
  min_mA: Float64Array | null;
  max_mA: Float64Array | null;
  voltage_V: Float64Array | null;
}

export function newWindowColumns(length: number): WindowColumns {
  const column = () => new Float64Array(length);
  return {
    seq: column(),
    t_us: column(),
    dur_us: column(),
    count: column(),
    mean_uA: column(),
    min_uA: column(),
    max_uA: column(),
    charge_nC: column(),
    flags: column(),
  };
}

export function newVoltageColumns(length: number): VoltageColumns {
  const column = () => new Float64Array(length);
  return { seq: column(), t_us: column(), bus_mV: column(), temp_mC: column(), dropped: column() };
}

function pack(sink: ByteSink): Buffer {
  const plain = sink.taken();
  const deflated = deflateRawSync(plain, { level: 6, memLevel: 9, chunkSize: PLAIN_BYTES });
  const pays = deflated.length < plain.length;
  return Buffer.concat([Uint8Array.of(pays ? PACKING.deflate : PACKING.plain), pays ? deflated : plain]);
}

/**
 * Opens a stored block.
 * @throws Error where the check value does not fit: the file is damaged there.
 */
export function unpack(data: Uint8Array, crc: number): ByteSource {
  if (crc32(data) !== crc) throw new Error('its check value does not fit its bytes');
  if (data.length === 0) throw new Error('it holds no byte');
  const body = data.subarray(1);
  if (data[0] === PACKING.plain) return new ByteSource(body);
  if (data[0] === PACKING.deflate)
    return new ByteSource(inflateRawSync(body, { chunkSize: PLAIN_BYTES, maxOutputLength: UNPACKED_BYTES_MOST }));
  throw new Error(`its packing ${data[0]} is not known to this version`);
}

/** Check value of a stored block (CRC-32/ISO-HDLC), kept in its row. */
export const blockCrc = (data: Uint8Array): number => crc32(data);

/** Sum of current over the window as its mean tells it: what the running charge is predicted to grow by. */
function predictedCharge_nC(mean_uA: number, dur_us: number): number {
  const charge = Math.round((mean_uA * dur_us) / 1000);
  return Math.abs(charge) <= PREDICTED_CHARGE_MAX_nC ? charge : 0;
}

export function encodeWindows(readings: readonly WindowReading[]): Buffer {
  const sink = new ByteSink();
  const plane = (predict: (r: WindowReading, before: WindowReading | undefined) => number) =>
    putWhole(
      sink,
      Float64Array.from(readings, (r, i) => predict(r, readings[i - 1])),
    );
  plane((r, b) => r.seq - (b === undefined ? 0 : b.seq + 1));
  plane((r, b) => r.t_us - (b?.t_us ?? 0) - r.dur_us);
  plane((r, b) => r.dur_us - (b?.dur_us ?? 0));
  plane((r, b) => r.count - (b?.count ?? 0));
  plane((r, b) => r.mean_uA - (b?.mean_uA ?? 0));
  plane((r) => r.mean_uA - r.min_uA);
  plane((r) => r.max_uA - r.mean_uA);
  plane((r, b) =>
    b === undefined ? r.charge_nC : r.charge_nC - b.charge_nC - predictedCharge_nC(r.mean_uA, r.dur_us),
  );
  plane((r) => r.flags);
  return pack(sink);
}

/** Reads a block of `count` windows into `out` from index `at` on. */
export function decodeWindows(data: Uint8Array, crc: number, count: number, out: WindowColumns, at: number): void {
  const source = unpack(data, crc);
  const planes = [
    out.seq,
    out.t_us,
    out.dur_us,
    out.count,
    out.mean_uA,
    out.min_uA,
    out.max_uA,
    out.charge_nC,
    out.flags,
  ];
  for (const plane of planes) takePlane(source, count, plane, at);
  let seq = -1,
    t_us = 0,
    dur_us = 0,
    conversions = 0,
    mean_uA = 0,
    charge_nC = 0;
  const { seq: s, t_us: t, dur_us: d, count: c, mean_uA: m, min_uA: lo, max_uA: hi, charge_nC: q } = out;
  for (let i = at; i < at + count; i++) {
    seq = s[i]! + seq + 1;
    dur_us += d[i]!;
    t_us += t[i]! + dur_us;
    conversions += c[i]!;
    mean_uA += m[i]!;
    charge_nC += q[i]! + (i === at ? 0 : predictedCharge_nC(mean_uA, dur_us));
    s[i] = seq;
    d[i] = dur_us;
    t[i] = t_us;
    c[i] = conversions;
    m[i] = mean_uA;
    lo[i] = mean_uA - lo[i]!;
    hi[i] = mean_uA + hi[i]!;
    q[i] = charge_nC;
  }
}

/** Brings the windows [from, to) into the order of their time. Nearly always they are in it. */
export function sortWindows(columns: WindowColumns, from: number, to: number): void {
  const { t_us } = columns;
  let i = from + 1;
  while (i < to && t_us[i]! >= t_us[i - 1]!) i++;
  if (i >= to) return;
  const order = Array.from({ length: to - from }, (_, k) => from + k).sort((a, b) => t_us[a]! - t_us[b]!);
  for (const column of Object.values(columns) as Float64Array[])
    column.set(
      order.map((index) => column[index]!),
      from,
    );
}

export function encodeVoltage(readings: readonly VoltageReading[]): Buffer {
  const sink = new ByteSink();
  for (const key of ['seq', 't_us', 'bus_mV', 'temp_mC', 'dropped'] as const) {
    putWhole(
      sink,
      Float64Array.from(readings, (r, i) => r[key] - (readings[i - 1]?.[key] ?? 0)),
    );
  }
  return pack(sink);
}

export function decodeVoltage(data: Uint8Array, crc: number, count: number, out: VoltageColumns, at: number): void {
  const source = unpack(data, crc);
  for (const plane of [out.seq, out.t_us, out.bus_mV, out.temp_mC, out.dropped]) {
    takePlane(source, count, plane, at);
    for (let i = at + 1; i < at + count; i++) plane[i] = plane[i]! + plane[i - 1]!;
  }
}

const OPTIONAL_COLUMNS = ['min_mA', 'max_mA', 'voltage_V'] as const;

/** Filled anew for each block of points: an import encodes hundreds, and new memory is slow. */
const POINTS_SINK = new ByteSink();

export function encodePoints(points: PointColumns): Buffer {
  const sink = POINTS_SINK;
  sink.length = 0;
  let present = 0;
  OPTIONAL_COLUMNS.forEach((key, bit) => (present |= points[key] === null ? 0 : 1 << bit));
  sink.byte(present);
  putDecimal(sink, points.t_s);
  putDecimal(sink, points.current_mA);
  for (const key of OPTIONAL_COLUMNS) {
    const column = points[key];
    if (column !== null) putDecimal(sink, column);
  }
  return pack(sink);
}

/** Reads a block of `count` points into `out` from index `at` on. All blocks of a capture have the same columns. */
export function decodePoints(data: Uint8Array, crc: number, count: number, out: PointColumns, at: number): void {
  const source = unpack(data, crc);
  const present = source.byte();
  takePlane(source, count, out.t_s, at);
  takePlane(source, count, out.current_mA, at);
  OPTIONAL_COLUMNS.forEach((key, bit) => {
    if ((present & (1 << bit)) === 0) return;
    const column = (out[key] ??= new Float64Array(out.t_s.length).fill(NaN));
    takePlane(source, count, column, at);
  });
}
