// Columns of numbers as bytes and back, exact to the last bit. SPEC.md, "Planes",
// is the byte format that this file writes and reads.
//
// A plane is a column of a block. Its values are first predicted (from the value
// before, or from other columns: `blocks.ts` does that), and what is left is
// small: zigzag makes it unsigned, a varint of seven bits per byte makes it short.

const VARINT_BYTES_MOST = 8;

/** A step between these, either sign, is a whole number of 31 bits. */
const STEP_SHORT = 2 ** 30;

/** How a plane's bytes are to be read. */
const FORM = { varint: 0, float64: 1, decimal: 2 } as const;

/** Beyond this the doubled zigzag value leaves the exact integers of a double. */
const ZIGZAG_MAX = 2 ** 52 - 1;

/** Decimal places that are tried; more than this is a computed value, not a printed one. */
const PLACES_MAX = 9;

/** A growing byte buffer. */
export class ByteSink {
  bytes = new Uint8Array(1024);
  length = 0;

  /** Makes room for `count` more bytes. */
  reserve(count: number): void {
    if (this.length + count <= this.bytes.length) return;
    const grown = new Uint8Array(Math.max(this.length + count, this.bytes.length * 2));
    grown.set(this.bytes);
    this.bytes = grown;
  }

  byte(value: number): void {
    this.reserve(1);
    this.bytes[this.length++] = value;
  }

  /** Unsigned whole number below 2^53, seven bits per byte, lowest first. */
  varint(value: number): void {
    if (this.length + 8 > this.bytes.length) this.reserve(8);
    let rest = value;
    while (rest > 0x7fffffff) {
      this.bytes[this.length++] = (rest % 128) | 0x80;
      rest = Math.floor(rest / 128);
    }
    while (rest > 0x7f) {
      this.bytes[this.length++] = (rest & 0x7f) | 0x80;
      rest >>>= 7;
    }
    this.bytes[this.length++] = rest;
  }

  taken(): Uint8Array {
    return this.bytes.subarray(0, this.length);
  }
}

/** Reads what a `ByteSink` wrote. Throws where the bytes end early: the block is damaged. */
export class ByteSource {
  at = 0;
  constructor(readonly bytes: Uint8Array) {}

  byte(): number {
    const value = this.bytes[this.at++];
    if (value === undefined) throw new Error('a block ends before its last value');
    return value;
  }

  varint(): number {
    let value = 0;
    let scale = 1;
    for (let i = 0; i < 8; i++) {
      const byte = this.byte();
      value += (byte & 0x7f) * scale;
      if (byte < 0x80) return value;
      scale *= 128;
    }
    throw new Error('a block holds a number of more than eight bytes');
  }
}

/** Small numbers of either sign as small ones of none. */
export const zigzag = (value: number): number => (value >= 0 ? value * 2 : value * -2 - 1);
export const unzigzag = (value: number): number => (value % 2 === 0 ? value / 2 : -(value + 1) / 2);

function fitsVarint(values: Float64Array): boolean {
  for (let i = 0; i < values.length; i++) {
    const v = values[i]!;
    if (!(v >= -ZIGZAG_MAX && v <= ZIGZAG_MAX) || v !== Math.floor(v) || Object.is(v, -0)) return false;
  }
  return true;
}

/** Appends whole numbers (already predicted). Any that do not fit make the plane a plain float64 one. */
export function putWhole(sink: ByteSink, values: Float64Array): void {
  if (!fitsVarint(values)) return putFloat64(sink, values);
  sink.byte(FORM.varint);
  for (let i = 0; i < values.length; i++) sink.varint(zigzag(values[i]!));
}

function putFloat64(sink: ByteSink, values: Float64Array): void {
  sink.byte(FORM.float64);
  sink.reserve(values.length * 8);
  const view = new DataView(sink.bytes.buffer, sink.length);
  for (let i = 0; i < values.length; i++) view.setFloat64(i * 8, values[i]!, true);
  sink.length += values.length * 8;
}

/** Decimal fractions as whole numbers at a power of ten. */
interface Decimals {
  places: number;
  whole: Float64Array;
}

const POWERS = Float64Array.from({ length: PLACES_MAX + 1 }, (_, places) => Number(`1e${places}`));

/** What `decimalsOf` gave last; filled anew each time, since new memory is slow. */
let scratch = new Float64Array(0);

/** At the fewest places that give every value back bit for bit; null where none do. */
function decimalsOf(values: Float64Array): Decimals | null {
  if (scratch.length < values.length) scratch = new Float64Array(values.length);
  const whole = scratch;
  let places = 0;
  // Where places grew, the values before must still be exact at the final scale.
  for (let again = true; again;) {
    again = false;
    let scale = POWERS[places]!;
    for (let i = 0; i < values.length; i++) {
      const v = values[i]!;
      let rounded = Math.round(v * scale);
      while (rounded / scale !== v || !(Math.abs(rounded) <= ZIGZAG_MAX / 2)) {
        if (++places > PLACES_MAX) return null;
        scale = POWERS[places]!;
        rounded = Math.round(v * scale);
        again ||= i > 0;
      }
      if (v === 0 && Object.is(v, -0)) return null;
      whole[i] = rounded;
    }
  }
  return { places, whole };
}

/**
 * Appends decimal fractions exactly. Values as instruments print them (12.345)
 * are kept as whole numbers at a power of ten, each as the difference to the one
 * before; anything else as float64.
 */
export function putDecimal(sink: ByteSink, values: Float64Array): void {
  const decimals = decimalsOf(values);
  if (decimals === null) return putFloat64(sink, values);
  sink.byte(FORM.decimal);
  sink.byte(decimals.places);
  const { whole } = decimals;
  sink.reserve(values.length * VARINT_BYTES_MOST);
  const { bytes } = sink;
  let p = sink.length,
    before = 0;
  for (let i = 0; i < values.length; i++) {
    const step = whole[i]! - before;
    before = whole[i]!;
    if (step >= -STEP_SHORT && step < STEP_SHORT) {
      // Nearly all, written without a call; zigzag as `(step << 1) ^ (step >> 31)`.
      let rest = (step << 1) ^ (step >> 31);
      for (; rest > 0x7f; rest >>>= 7) bytes[p++] = (rest & 0x7f) | 0x80;
      bytes[p++] = rest;
    } else {
      sink.length = p;
      sink.varint(zigzag(step));
      p = sink.length;
    }
  }
  sink.length = p;
}

/** Reads the next plane of `count` values into `out` from index `at` on. */
export function takePlane(source: ByteSource, count: number, out: Float64Array, at: number): void {
  const form = source.byte();
  if (form === FORM.varint) takeVarints(source, count, out, at);
  else if (form === FORM.decimal) takeDecimals(source, count, out, at);
  else if (form === FORM.float64) takeFloats(source, count, out, at);
  else throw new Error(`a block holds a plane of form ${form}, which this version does not know`);
}

/** As many zeros as most blocks have values. */
const ZEROS = new Uint8Array(8192);

/** Whether the next `count` bytes are all zero: half of a night's planes, where a prediction was right throughout. */
function areZeros({ bytes, at }: ByteSource, count: number): boolean {
  if (at + count > bytes.length) return false;
  for (let from = at, to; from < at + count; from = to) {
    to = Math.min(at + count, from + ZEROS.length);
    if (Buffer.compare(bytes.subarray(from, to), ZEROS.subarray(0, to - from)) !== 0) return false;
  }
  return true;
}

/** The hot loop of opening a capture: numbers below 2^28 are put together without a call. */
function takeVarints(source: ByteSource, count: number, out: Float64Array, at: number): void {
  if (areZeros(source, count)) {
    out.fill(0, at, at + count);
    source.at += count;
    return;
  }
  const { bytes } = source;
  let p = source.at;
  const end = at + count;
  for (let i = at; i < end; i++) {
    let b0 = bytes[p++]!;
    // Most numbers are one byte.
    while (b0 < 0x80) {
      out[i] = (b0 >>> 1) ^ -(b0 & 1);
      if (++i === end) break;
      b0 = bytes[p++]!;
    }
    if (i === end) break;
    let u = b0 & 0x7f;
    if (b0 > 0x7f) {
      const b1 = bytes[p++]!;
      u |= (b1 & 0x7f) << 7;
      if (b1 > 0x7f) {
        const b2 = bytes[p++]!;
        u |= (b2 & 0x7f) << 14;
        if (b2 > 0x7f) {
          source.at = p - 3;
          const wide = source.varint();
          p = source.at;
          out[i] = unzigzag(wide);
          continue;
        }
      }
    }
    out[i] = (u >>> 1) ^ -(u & 1);
  }
  if (p > bytes.length) throw new Error('a block ends before its last value');
  source.at = p;
}

function takeDecimals(source: ByteSource, count: number, out: Float64Array, at: number): void {
  const places = source.byte();
  if (places > PLACES_MAX) throw new Error(`a block holds numbers of ${places} decimal places, over ${PLACES_MAX}`);
  const scale = 10 ** places;
  takeVarints(source, count, out, at);
  let whole = 0;
  for (let i = at; i < at + count; i++) {
    whole += out[i]!;
    out[i] = whole / scale;
  }
}

function takeFloats(source: ByteSource, count: number, out: Float64Array, at: number): void {
  const { bytes } = source;
  if (source.at + count * 8 > bytes.length) throw new Error('a block ends before its last value');
  const view = new DataView(bytes.buffer, bytes.byteOffset + source.at);
  for (let i = 0; i < count; i++) out[at + i] = view.getFloat64(i * 8, true);
  source.at += count * 8;
}
