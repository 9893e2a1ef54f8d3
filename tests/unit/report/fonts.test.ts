// The report's own reading and cutting of font files, against another font library
// (fontkit, by way of pdfkit).

import { readFileSync } from 'node:fs';
import PDFDocument from 'pdfkit';
import { expect, test } from 'vitest';
import { fontFilesFor, fontMeasure, FONTS } from '../../../host/report/fonts.ts';
import { readTrueType } from '../../../host/report/truetype.ts';

const TEXT = 'µΩ−→ Äö 12.5 mA é';

test('a letter is as wide as pdfkit sets it', () => {
  const doc = new PDFDocument({ autoFirstPage: false });
  doc.registerFont('plain', readFileSync(FONTS.plain)).registerFont('bold', readFileSync(FONTS.bold)).fontSize(100);
  for (const letter of TEXT) {
    expect(fontMeasure()(letter, 100, false), letter).toBeCloseTo(doc.font('plain').widthOfString(letter), 6);
    expect(fontMeasure()(letter, 100, true), letter).toBeCloseTo(doc.font('bold').widthOfString(letter), 6);
  }
});

test('a cut font has the letters asked for, as wide as before, and no others', () => {
  const whole = readTrueType(readFileSync(FONTS.plain));
  const { plain } = fontFilesFor(TEXT);
  const cut = readTrueType(plain);
  for (const letter of TEXT) {
    const code = letter.codePointAt(0)!;
    expect(cut.glyphOf(code), letter).toBeGreaterThan(0);
    expect(cut.advanceOf(cut.glyphOf(code))).toBe(whole.advanceOf(whole.glyphOf(code)));
  }
  expect(whole.glyphOf(0x416)).toBeGreaterThan(0);
  expect(cut.glyphOf(0x416)).toBe(0);
  // Another reader takes the file for a font, and finds the same letters.
  const doc = new PDFDocument({ autoFirstPage: false });
  doc.registerFont('cut', plain).font('cut').fontSize(100);
  for (const letter of TEXT)
    expect(doc.widthOfString(letter), letter).toBeCloseTo(fontMeasure()(letter, 100, false), 6);
});
