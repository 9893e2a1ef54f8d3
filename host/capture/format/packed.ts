// Whole numbers of a narrow range in as many bits as their group needs: what a
// thousand conversions a second are kept in. SPEC.md, "Packed planes".

import { unzigzag, zigzag } from './planes.ts';
import type { ByteSink, ByteSource } from './planes.ts';

/** Values that share a base and a width. */
const GROUP = 128;

/** Widest value that four bytes hold from any bit of the first one on. */
export const PACKED_BITS_MAX = 24;

/** Zero bytes behind the last plane of a block, so that four bytes may be read from any place. */
export const PADDING_BYTES = 3;

/** Appends a plane of 32-bit whole numbers. @throws RangeError where a group spans 2^24 or more */
export function putPacked(sink: ByteSink, values: Int32Array): void {
  for (let from = 0; from < values.length; from += GROUP) {
    const to = Math.min(from + GROUP, values.length);
    let low = values[from]!,
      high = low;
    for (let i = from; i < to; i++) {
      low = Math.min(low, values[i]!);
      high = Math.max(high, values[i]!);
    }
    const width = high === low ? 0 : Math.floor(Math.log2(high - low)) + 1;
    if (width > PACKED_BITS_MAX)
      throw new RangeError(`values from ${low} to ${high} do not fit ${PACKED_BITS_MAX} bits`);
    sink.varint(zigzag(low));
    sink.byte(width);
    let held = 0,
      bits = 0;
    for (let i = from; i < to; i++) {
      held |= (values[i]! - low) << bits;
      bits += width;
      for (; bits >= 8; bits -= 8) {
        sink.byte(held & 0xff);
        held >>>= 8;
      }
    }
    if (bits > 0) sink.byte(held & 0xff);
  }
}

/** Reads the next plane of `count` values into `out` from index 0 on. */
export function takePacked(source: ByteSource, count: number, out: Int32Array): void {
  for (let from = 0; from < count; from += GROUP) {
    const low = unzigzag(source.varint());
    const width = source.byte();
    if (width > PACKED_BITS_MAX) throw new Error(`a block holds values of ${width} bits, over ${PACKED_BITS_MAX}`);
    const to = Math.min(from + GROUP, count);
    const size = Math.ceil(((to - from) * width) / 8);
    if (source.at + size + PADDING_BYTES > source.bytes.length) throw new Error('a block ends before its last value');
    unpack(source.bytes, source.at, width, low, out, from, to);
    source.at += size;
  }
}

/** The hot loop of reading a raw capture. */
function unpack(
  bytes: Uint8Array,
  start: number,
  width: number,
  low: number,
  out: Int32Array,
  from: number,
  to: number,
): void {
  const mask = (1 << width) - 1;
  if (width === 8) {
    for (let i = from, p = start; i < to; i++, p++) out[i] = low + bytes[p]!;
    return;
  }
  let bit = 0;
  for (let i = from; i < to; i++, bit += width) {
    const p = start + (bit >>> 3);
    const four = bytes[p]! | (bytes[p + 1]! << 8) | (bytes[p + 2]! << 16) | (bytes[p + 3]! << 24);
    out[i] = low + ((four >>> (bit & 7)) & mask);
  }
}
