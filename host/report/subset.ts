// A font with the glyphs of some letters alone, small enough to stand inside an HTML or
// SVG file (OpenType specification 1.9: glyf, loca, cmap format 12, and the tables beside).

import type { TrueType } from './truetype.ts';

/** Bits of a composite glyph's parts (specification, table glyf). */
const WORDS = 1,
  SCALE = 8,
  MORE = 32,
  TWO_SCALES = 64,
  MATRIX = 128;

const padded = (bytes: Buffer) => Buffer.concat([bytes, Buffer.alloc(-bytes.length & 3)]);

/** @returns the file of a font that shows `letters` as `font` does, and nothing else; equal bytes for equal letters */
export function subsetOf(font: TrueType, letters: ReadonlySet<number>): Buffer {
  const shown = [...letters]
    .sort((a, b) => a - b)
    .map((codePoint) => [codePoint, font.glyphOf(codePoint)] as const)
    .filter(([, glyph]) => glyph !== 0);
  const kept = [0];
  const place = new Map([[0, 0]]);
  const keep = (glyph: number) => {
    if (place.has(glyph)) return;
    place.set(glyph, kept.length);
    kept.push(glyph);
  };
  shown.forEach(([, glyph]) => keep(glyph));
  // Grows while it is walked: the parts of composite glyphs come behind.
  for (let i = 0; i < kept.length; i++) partsOf(outline(font, kept[i]!)).forEach(({ glyph }) => keep(glyph));
  const outlines = kept.map((glyph) => renumbered(outline(font, glyph), place));
  const copy = (tag: string) => {
    const { at, length } = font.tables.get(tag)!;
    return Buffer.from(new Uint8Array(font.bytes.buffer, font.bytes.byteOffset + at, length));
  };
  const head = copy('head'),
    hhea = copy('hhea'),
    maxp = copy('maxp');
  head.writeInt16BE(1, 50);
  head.writeUInt32BE(0, 8);
  hhea.writeUInt16BE(kept.length, 34);
  maxp.writeUInt16BE(kept.length, 4);
  const post = Buffer.from(copy('post').subarray(0, 32));
  post.writeUInt32BE(0x00030000, 0);
  return fileOf(
    new Map([
      ['OS/2', copy('OS/2')],
      ['cmap', cmapOf(shown, place)],
      ['cvt ', copy('cvt ')],
      ['fpgm', copy('fpgm')],
      ['glyf', Buffer.concat(outlines)],
      ['head', head],
      ['hhea', hhea],
      ['hmtx', hmtxOf(font, kept)],
      ['loca', locaOf(outlines)],
      ['maxp', maxp],
      ['name', Buffer.from([0, 0, 0, 0, 0, 6])],
      ['post', post],
      ['prep', copy('prep')],
    ]),
  );
}

function outline(font: TrueType, glyph: number): Buffer {
  const loca = font.tables.get('loca')!.at,
    glyf = font.tables.get('glyf')!.at;
  const long = font.bytes.getInt16(font.tables.get('head')!.at + 50) === 1;
  const offset = (g: number) => (long ? font.bytes.getUint32(loca + 4 * g) : 2 * font.bytes.getUint16(loca + 2 * g));
  return Buffer.from(
    new Uint8Array(font.bytes.buffer, font.bytes.byteOffset + glyf + offset(glyph), offset(glyph + 1) - offset(glyph)),
  );
}

/** The glyphs that a composite one is made of, and where their numbers stand in it; none for a simple one. */
function partsOf(bytes: Buffer): { glyph: number; at: number }[] {
  const parts: { glyph: number; at: number }[] = [];
  if (bytes.length === 0 || bytes.readInt16BE(0) >= 0) return parts;
  for (let at = 10, flags = MORE; (flags & MORE) !== 0;) {
    flags = bytes.readUInt16BE(at);
    parts.push({ glyph: bytes.readUInt16BE(at + 2), at: at + 2 });
    at +=
      4 +
      ((flags & WORDS) !== 0 ? 4 : 2) +
      ((flags & SCALE) !== 0 ? 2 : (flags & TWO_SCALES) !== 0 ? 4 : (flags & MATRIX) !== 0 ? 8 : 0);
  }
  return parts;
}

function renumbered(bytes: Buffer, place: ReadonlyMap<number, number>): Buffer {
  for (const { glyph, at } of partsOf(bytes)) bytes.writeUInt16BE(place.get(glyph)!, at);
  return padded(bytes);
}

function locaOf(outlines: readonly Buffer[]): Buffer {
  const loca = Buffer.alloc(4 * (outlines.length + 1));
  outlines.reduce((at, bytes, i) => loca.writeUInt32BE(at + bytes.length, 4 * (i + 1)) && at + bytes.length, 0);
  return loca;
}

function hmtxOf(font: TrueType, kept: readonly number[]): Buffer {
  const from = font.tables.get('hmtx')!.at,
    metrics = font.bytes.getUint16(font.tables.get('hhea')!.at + 34);
  const hmtx = Buffer.alloc(4 * kept.length);
  kept.forEach((glyph, i) => {
    hmtx.writeUInt16BE(font.advanceOf(glyph), 4 * i);
    const bearing = glyph < metrics ? from + 4 * glyph + 2 : from + 4 * metrics + 2 * (glyph - metrics);
    hmtx.writeInt16BE(font.bytes.getInt16(bearing), 4 * i + 2);
  });
  return hmtx;
}

/** Format 12, one group for each letter; platform 3, encoding 10: all of Unicode. */
function cmapOf(shown: readonly (readonly [number, number])[], place: ReadonlyMap<number, number>): Buffer {
  const words = [0x00000001, 0x0003000a, 12, 0x000c0000, 16 + 12 * shown.length, 0, shown.length];
  for (const [codePoint, glyph] of shown) words.push(codePoint, codePoint, place.get(glyph)!);
  const cmap = Buffer.alloc(4 * words.length);
  words.forEach((word, i) => cmap.writeUInt32BE(word, 4 * i));
  return cmap;
}

function sumOf(bytes: Buffer): number {
  let sum = 0;
  for (let i = 0; i < bytes.length; i += 4) sum = (sum + bytes.readUInt32BE(i)) >>> 0;
  return sum;
}

function fileOf(tables: ReadonlyMap<string, Buffer>): Buffer {
  const count = tables.size,
    power = 2 ** Math.floor(Math.log2(count));
  const front = Buffer.alloc(12 + 16 * count);
  front.writeUInt32BE(0x00010000, 0);
  [count, power * 16, Math.log2(power), (count - power) * 16].forEach((value, i) =>
    front.writeUInt16BE(value, 4 + 2 * i),
  );
  const bodies: Buffer[] = [];
  let at = front.length,
    entry = 12,
    headAt = 0;
  for (const [tag, bytes] of tables) {
    const body = padded(bytes);
    if (tag === 'head') headAt = at;
    front.write(tag, entry, 'latin1');
    [sumOf(body), at, bytes.length].forEach((value, i) => front.writeUInt32BE(value, entry + 4 + 4 * i));
    bodies.push(body);
    at += body.length;
    entry += 16;
  }
  const file = Buffer.concat([front, ...bodies]);
  // The sum of the whole file comes out as this constant (specification, table head).
  file.writeUInt32BE((0xb1b0afba - sumOf(file)) >>> 0, headAt + 8);
  return file;
}
