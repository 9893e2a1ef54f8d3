// The report's own font (DejaVu Sans, shipped with its package): where its files lie, how
// wide a text is in it, so that every format breaks lines at the same places, and the part
// of it that a text needs, to stand in a file that is read elsewhere.

import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { MeasureText } from '../../web/chart/text.ts';
import { subsetOf } from './subset.ts';
import { readTrueType } from './truetype.ts';
import type { TrueType } from './truetype.ts';

const require = createRequire(import.meta.url);
const fileOf = (name: string) => require.resolve(`dejavu-fonts-ttf/ttf/${name}.ttf`);

export const FONT_FAMILY = "'DejaVu Sans', Verdana, sans-serif";
export const FONTS = { plain: fileOf('DejaVuSans'), bold: fileOf('DejaVuSans-Bold') };

const read = new Map<string, TrueType>();
function fontAt(path: string): TrueType {
  let font = read.get(path);
  if (font === undefined) read.set(path, (font = readTrueType(readFileSync(path))));
  return font;
}

/**
 * Measures in the report's font, without its kerning, which moves a line by less than a
 * letter. Letters that it lacks count as its replacement box.
 */
export function fontMeasure(): MeasureText {
  return (text, size_px, bold) => {
    const font = fontAt(bold ? FONTS.bold : FONTS.plain);
    let width = 0;
    for (const letter of text) width += font.advanceOf(font.glyphOf(letter.codePointAt(0)!));
    return (width * size_px) / font.unitsPerEm;
  };
}

/** The fonts with the letters of `text` and plain ASCII alone, as files: plain and bold. */
export function fontFilesFor(text: string): { plain: Buffer; bold: Buffer } {
  const letters = new Set<number>();
  for (let c = 0x20; c < 0x7f; c++) letters.add(c);
  for (const letter of text) letters.add(letter.codePointAt(0)!);
  return { plain: subsetOf(fontAt(FONTS.plain), letters), bold: subsetOf(fontAt(FONTS.bold), letters) };
}

/** Style rules that bring those fonts along within an HTML or SVG file. */
export function fontRules(text: string): string {
  const { plain, bold } = fontFilesFor(text);
  return (
    [
      ['normal', plain],
      ['bold', bold],
    ] as const
  )
    .map(
      ([weight, file]) =>
        `@font-face{font-family:'DejaVu Sans';font-weight:${weight};src:url(data:font/ttf;base64,${file.toString('base64')})}`,
    )
    .join('\n');
}
