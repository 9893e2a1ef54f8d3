// How wide a text is drawn. The page measures with its own font; without a page the
// estimate below is used, which leans to the wide side so that nothing collides.

/** Width in px of `text` at `size_px`. */
export type MeasureText = (text: string, size_px: number, bold: boolean) => number;

/**
 * Widths in em by group of letters, chosen on the wide side. A browser test holds them
 * against DejaVu Sans, which is among the widest of common sans fonts.
 */
const WIDTHS: [RegExp, number][] = [
  [/[ijl.,:;'|!I\s·]/, 0.35],
  [/[frt()[\]-]/, 0.42],
  [/[mw@%MWÅ]/, 1.0],
  [/[A-Z+=−×→…–]/, 0.84],
];
const OTHER_WIDTH = 0.65;
const BOLD = 1.12;

export const estimateText: MeasureText = (text, size_px, bold) => {
  let width_em = 0;
  for (const character of text) {
    width_em += WIDTHS.find(([group]) => group.test(character))?.[1] ?? OTHER_WIDTH;
  }
  return width_em * size_px * (bold ? BOLD : 1);
};

/** Cuts a text that is too wide and marks the cut. */
export function fitText(text: string, width_px: number, size_px: number, bold: boolean, measure: MeasureText): string {
  if (measure(text, size_px, bold) <= width_px) return text;
  let kept = text;
  while (kept.length > 0 && measure(`${kept}…`, size_px, bold) > width_px) kept = kept.slice(0, -1);
  return kept === '' ? '' : `${kept.trimEnd()}…`;
}
