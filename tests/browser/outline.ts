// What a page shows, as text: the words of its rows, and of each drawing the parts, how many
// of each, the labels and the texts. Pixels move with fonts and browsers; this does not.

import { fileURLToPath } from 'node:url';
import type { Page } from 'playwright-core';

/** Where pictures and outlines are kept. */
export const GALLERY = fileURLToPath(new URL('gallery/', import.meta.url));

export interface Drawing {
  title: string | null;
  /** One for each shape, by its part's name. */
  parts: string[];
  /** What each text labels, null where it is none of ours, and its words. */
  texts: [string | null, string][];
}

const oneLine = (text: string) => text.replace(/\s+/g, ' ').trim();

function inWords({ title, parts, texts }: Drawing): string[] {
  const counts = new Map<string, number>();
  for (const part of parts) counts.set(part, (counts.get(part) ?? 0) + 1);
  // An icon says nothing.
  if (title === null && parts.length + texts.length === 0) return [];
  return [
    oneLine(`drawing ${title ?? ''}`),
    ...[...counts].map(([part, count]) => `  ${count} ${part}`),
    ...texts.map(([label, words]) => `  ${label ?? 'text'}: ${oneLine(words)}`),
  ];
}

/**
 * Lines as they are kept beside a picture. The page is without its drawings then: the last thing that is done with it.
 */
export async function outlineOf(page: Page): Promise<string> {
  const drawings = await page.$$eval('svg', (all) =>
    all
      .filter((svg) => svg.checkVisibility() && svg.parentElement?.closest('svg') === null)
      .map((svg) => ({
        title: svg.getAttribute('aria-label'),
        parts: Array.from(svg.querySelectorAll('[data-part]'), (part) => part.getAttribute('data-part')!),
        texts: Array.from(svg.querySelectorAll('text'), (text): [string | null, string] => [
          text.closest('[data-label]')?.getAttribute('data-label') ?? null,
          text.textContent,
        ]),
      })),
  );
  // What stands in a drawing has been told; of a choice only what is chosen is seen.
  await page.$$eval('svg', (all) => all.forEach((svg) => (svg.style.display = 'none')));
  await page.$$eval('select', (all) =>
    all.forEach((select) => {
      select.before(select.selectedOptions[0]?.text ?? '');
      select.style.display = 'none';
    }),
  );
  const words = await page.evaluate(() => document.body.innerText);
  return [
    ...words
      .split('\n')
      .map(oneLine)
      .filter((line) => line !== ''),
    ...drawings.flatMap(inWords),
    '',
  ].join('\n');
}
