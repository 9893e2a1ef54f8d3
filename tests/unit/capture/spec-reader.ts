// Reads a capture by SPEC.md alone: nothing of the program is used but the database driver.
// What it finds is what the document says is there.
import { inflateRawSync } from 'node:zlib';
import { Database } from '../../../host/capture/format/sqlite.ts';

export interface SpecBlock {
  stream: number;
  run: number;
  first_t_us: number;
  last_t_us: number;
  covered_us: number | null;
  columns: Record<string, number[]>;
}

/** CRC-32/ISO-HDLC: polynomial 04C11DB7h reflected, from and to FFFFFFFFh. */
function crc32(data: Uint8Array): number {
  let crc = 0xffffffff;
  for (const byte of data) {
    crc ^= byte;
    for (let k = 0; k < 8; k++) crc = crc & 1 ? (crc >>> 1) ^ 0xedb88320 : crc >>> 1;
  }
  return (crc ^ 0xffffffff) >>> 0;
}

class Bytes {
  at = 0;
  constructor(readonly data: Uint8Array) {}

  byte(): number {
    if (this.at >= this.data.length) throw new Error('the bytes end early');
    return this.data[this.at++]!;
  }

  /** Seven bits per byte from the lowest, not zigzagged. */
  number(): number {
    let value = 0n,
      shift = 0n;
    for (;;) {
      const byte = this.byte();
      value |= BigInt(byte & 0x7f) << shift;
      if (byte < 0x80) return Number(value);
      shift += 7n;
    }
  }

  signed(): number {
    const u = this.number();
    return u % 2 === 0 ? u / 2 : -(u + 1) / 2;
  }

  double(): number {
    const value = new DataView(this.data.buffer, this.data.byteOffset + this.at, 8).getFloat64(0, true);
    this.at += 8;
    return value;
  }

  plane(count: number): number[] {
    const form = this.byte();
    if (form === 0) return Array.from({ length: count }, () => this.signed());
    if (form === 1) return Array.from({ length: count }, () => this.double());
    if (form !== 2) throw new Error(`form ${form} is not in the document`);
    const places = this.byte();
    let whole = 0;
    return Array.from({ length: count }, () => (whole += this.signed()) / 10 ** places);
  }

  packed(count: number): number[] {
    const values: number[] = [];
    while (values.length < count) {
      const least = this.signed(),
        bits = this.byte(),
        n = Math.min(128, count - values.length);
      let held = 0n;
      const size = Math.ceil((n * bits) / 8);
      for (let i = 0; i < size; i++) held |= BigInt(this.byte()) << BigInt(8 * i);
      for (let i = 0; i < n; i++) values.push(least + Number((held >> BigInt(i * bits)) & ((1n << BigInt(bits)) - 1n)));
    }
    return values;
  }
}

const sums = (values: number[]): number[] => {
  let sum = 0;
  return values.map((value) => (sum += value));
};

function windows(bytes: Bytes, count: number): Record<string, number[]> {
  const [seq, t_us, dur_us, conversions, mean_uA, min_uA, max_uA, charge_nC, flags] = Array.from({ length: 9 }, () =>
    bytes.plane(count),
  ) as [number[], number[], number[], number[], number[], number[], number[], number[], number[]];
  const dur = sums(dur_us),
    mean = sums(mean_uA);
  const predicted = mean.map((value, i) => {
    const charge = Math.floor((value * dur[i]!) / 1000 + 0.5);
    return Math.abs(charge) > 2 ** 50 ? 0 : charge;
  });
  return {
    seq: sums(seq.map((value, i) => (i === 0 ? value : value + 1))),
    t_us: sums(t_us.map((value, i) => value + dur[i]!)),
    dur_us: dur,
    count: sums(conversions),
    mean_uA: mean,
    min_uA: min_uA.map((value, i) => mean[i]! - value),
    max_uA: max_uA.map((value, i) => mean[i]! + value),
    charge_nC: sums(charge_nC.map((value, i) => (i === 0 ? value : value + predicted[i]!))),
    flags,
  };
}

function voltages(bytes: Bytes, count: number): Record<string, number[]> {
  return Object.fromEntries(
    ['seq', 't_us', 'bus_mV', 'temp_mC', 'dropped'].map((name) => [name, sums(bytes.plane(count))]),
  );
}

function points(bytes: Bytes, count: number): Record<string, number[]> {
  const more = bytes.byte();
  const names = ['t_s', 'current_mA', ...['min_mA', 'max_mA', 'voltage_V'].filter((_, bit) => (more >> bit) & 1)];
  return Object.fromEntries(names.map((name) => [name, bytes.plane(count)]));
}

function raw(bytes: Bytes, count: number): Record<string, number[]> {
  const seq: number[] = [],
    flags: number[] = [];
  let next = 0;
  for (let runs = bytes.number(); runs > 0; runs--) {
    const lines = bytes.number(),
      each = bytes.number();
    next += bytes.signed();
    for (let line = 0; line < lines; line++, next++) for (let k = 0; k < each; k++) seq.push(next);
  }
  for (let stretches = bytes.number(); stretches > 0; stretches--) {
    const length = bytes.number(),
      value = bytes.byte();
    for (let k = 0; k < length; k++) flags.push(value);
  }
  const leaps = new Map<number, number>();
  let place = 0;
  for (let n = bytes.number(); n > 0; n--) {
    place += bytes.number();
    leaps.set(place, bytes.signed());
  }
  const steps = bytes.packed(count);
  const t_us = sums(steps.map((step, i) => leaps.get(i) ?? step));
  return { seq, t_us, units: bytes.packed(count), flags };
}

const READERS: Record<number, (bytes: Bytes, count: number) => Record<string, number[]>> = {
  1: windows,
  2: voltages,
  3: points,
  4: raw,
};

/** @throws Error where the file is not as the document says */
export function readBySpec(path: string): { version: number; info: Record<string, unknown>; blocks: SpecBlock[] } {
  const db = new Database(path, { readonly: true });
  try {
    if (db.pragma('application_id', { simple: true }) !== 0x4e446370) throw new Error('another application id');
    const version = db.pragma('user_version', { simple: true }) as number;
    const info = Object.fromEntries(
      (db.prepare('SELECT key, value FROM info').all() as { key: string; value: string }[]).map(({ key, value }) => [
        key,
        JSON.parse(value) as unknown,
      ]),
    );
    const rows = db
      .prepare(
        `SELECT stream, run, first_t_us, last_t_us, count, crc32, data${version >= 2 ? ', covered_us' : ', NULL AS covered_us'} FROM block ORDER BY run, id`,
      )
      .all() as (Omit<SpecBlock, 'columns'> & { count: number; crc32: number; data: Buffer })[];
    const blocks = rows.map(({ count, crc32: check, data, ...row }) => {
      if (crc32(data) !== check) throw new Error('a check value does not fit');
      if (row.stream !== 4 && data[0]! > 1) throw new Error('another packing');
      if (row.stream === 4 && data[0] !== 0) throw new Error('a raw block of another packing');
      const body = data[0] === 1 ? inflateRawSync(data.subarray(1)) : data.subarray(1);
      const bytes = new Bytes(body);
      const columns = READERS[row.stream]!(bytes, count);
      const left = body.length - bytes.at;
      if (left !== (row.stream === 4 ? 3 : 0)) throw new Error(`${left} bytes are left over`);
      return { ...row, columns };
    });
    return { version, info, blocks };
  } finally {
    db.close();
  }
}
