// The little that setting text needs of a TrueType font file: which glyph shows a
// letter and how wide it is (OpenType specification 1.9: cmap format 4 and 12, head, hhea, hmtx).

export interface TrueType {
  bytes: DataView;
  /** Where a table begins and how long it is, in bytes. */
  tables: ReadonlyMap<string, { at: number; length: number }>;
  unitsPerEm: number;
  glyphs: number;
  /** Glyph 0, the replacement box, for letters that the font lacks. */
  glyphOf(codePoint: number): number;
  /** In font units. */
  advanceOf(glyph: number): number;
}

/** @throws Error where the file is no TrueType font with a Unicode map */
export function readTrueType(file: Buffer): TrueType {
  const bytes = new DataView(file.buffer, file.byteOffset, file.byteLength);
  const tables = new Map<string, { at: number; length: number }>();
  for (let i = 0; i < bytes.getUint16(4); i++) {
    const at = 12 + 16 * i;
    tables.set(file.toString('latin1', at, at + 4), { at: bytes.getUint32(at + 8), length: bytes.getUint32(at + 12) });
  }
  const table = (tag: string) => {
    const found = tables.get(tag);
    if (found === undefined) throw new Error(`the font has no table ${tag}`);
    return found.at;
  };
  const hmtx = table('hmtx'),
    metrics = bytes.getUint16(table('hhea') + 34);
  return {
    bytes,
    tables,
    unitsPerEm: bytes.getUint16(table('head') + 18),
    glyphs: bytes.getUint16(table('maxp') + 4),
    glyphOf: mapOf(bytes, table('cmap')),
    // The last one stands for all glyphs behind it.
    advanceOf: (glyph) => bytes.getUint16(hmtx + 4 * Math.min(glyph, metrics - 1)),
  };
}

function mapOf(bytes: DataView, cmap: number): TrueType['glyphOf'] {
  const maps = new Map<number, number>();
  for (let i = 0; i < bytes.getUint16(cmap + 2); i++) {
    const at = cmap + bytes.getUint32(cmap + 8 + 8 * i);
    maps.set(bytes.getUint16(at), at);
  }
  const wide = maps.get(12),
    narrow = maps.get(4);
  if (wide !== undefined) return (codePoint) => inGroups(bytes, wide, codePoint);
  if (narrow !== undefined) return (codePoint) => inSegments(bytes, narrow, codePoint);
  throw new Error('the font has no map of Unicode letters');
}

function inGroups(bytes: DataView, at: number, codePoint: number): number {
  let low = 0,
    high = bytes.getUint32(at + 12) - 1;
  while (low <= high) {
    const middle = (low + high) >> 1,
      group = at + 16 + 12 * middle;
    if (codePoint < bytes.getUint32(group)) high = middle - 1;
    else if (codePoint > bytes.getUint32(group + 4)) low = middle + 1;
    else return bytes.getUint32(group + 8) + codePoint - bytes.getUint32(group);
  }
  return 0;
}

function inSegments(bytes: DataView, at: number, codePoint: number): number {
  const twice = bytes.getUint16(at + 6);
  for (let i = 0; i < twice; i += 2) {
    if (codePoint > bytes.getUint16(at + 14 + i)) continue;
    const start = at + 16 + twice + i;
    if (codePoint < bytes.getUint16(start)) return 0;
    const delta = bytes.getUint16(start + twice),
      range = bytes.getUint16(start + 2 * twice);
    if (range === 0) return (codePoint + delta) & 0xffff;
    const glyph = bytes.getUint16(start + 2 * twice + range + 2 * (codePoint - bytes.getUint16(start)));
    return glyph === 0 ? 0 : (glyph + delta) & 0xffff;
  }
  return 0;
}
