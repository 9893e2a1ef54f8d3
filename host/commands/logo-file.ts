// The workshop's logo, read from its file into an address that stands in the report itself.

import { existsSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';

const BYTES_MAX = 1_000_000;
/** PNG signature and the place of width and height (PNG specification, 5.2 and 11.2.2). */
const PNG_SIGNATURE = '89504e470d0a1a0a';
/** Start of image, and of the next segment (ITU-T T.81, B.1.1). */
const JPEG_SIGNATURE = 'ffd8ff';

/**
 * @param folders where a logo is looked for, first found wins
 * @throws Error in one sentence naming the file and what is wrong with it
 */
export function readLogo(name: string, folders: readonly string[]): { href: string; ratio: number } {
  const path = [...folders.map((folder) => join(folder, name)), name].find((file) => existsSync(file));
  if (path === undefined)
    throw new Error(`${name} (the logo) is not there; name a PNG, JPEG or SVG file with --logo or as workshop_logo`);
  const { size } = statSync(path);
  if (size > BYTES_MAX)
    throw new Error(`${path} (the logo) has ${size} bytes, at most ${BYTES_MAX} are taken; make it smaller`);
  const bytes = readFileSync(path);
  if (bytes.subarray(0, 8).toString('hex') === PNG_SIGNATURE && bytes.length > 24) {
    return {
      href: `data:image/png;base64,${bytes.toString('base64')}`,
      ratio: bytes.readUInt32BE(16) / Math.max(1, bytes.readUInt32BE(20)),
    };
  }
  if (bytes.subarray(0, 3).toString('hex') === JPEG_SIGNATURE) {
    const size = jpegSize(bytes);
    if (size === null) throw new Error(`${path} (the logo) is a damaged JPEG; save it anew`);
    return { href: `data:image/jpeg;base64,${bytes.toString('base64')}`, ratio: size.width / Math.max(1, size.height) };
  }
  const text = bytes.toString('utf8');
  if (!/<svg[\s>]/.test(text))
    throw new Error(`${path} (the logo) is neither PNG nor JPEG nor SVG; save it as one of them`);
  const box = /viewBox\s*=\s*["']\s*[-\d.]+[\s,]+[-\d.]+[\s,]+([\d.]+)[\s,]+([\d.]+)/.exec(text);
  const ratio = box === null ? 2 : Number(box[1]) / Number(box[2]);
  return {
    href: `data:image/svg+xml;base64,${bytes.toString('base64')}`,
    ratio: ratio > 0 && Number.isFinite(ratio) ? ratio : 2,
  };
}

/** From the frame header (ITU-T T.81, B.2.2); null where the segments lead nowhere. */
function jpegSize(bytes: Buffer): { width: number; height: number } | null {
  for (let at = 2; at + 9 <= bytes.length && bytes[at] === 0xff;) {
    const marker = bytes[at + 1]!;
    // C4, C8 and CC are no frames; from the first scan on there are no sizes.
    const isFrame = marker >= 0xc0 && marker <= 0xcf && ![0xc4, 0xc8, 0xcc].includes(marker);
    if (isFrame) return { height: bytes.readUInt16BE(at + 5), width: bytes.readUInt16BE(at + 7) };
    if (marker === 0xda) return null;
    at += 2 + bytes.readUInt16BE(at + 2);
  }
  return null;
}
