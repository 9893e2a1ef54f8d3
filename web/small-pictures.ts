// Small pictures in the list of captures: asked for when the list is opened, a few at a
// time, and kept until the file changes.

import type { CaptureSummary, Overview } from '../host/server/api.ts';
import { askSmall } from './ask.ts';
import { drawSmall } from './chart/small.ts';
import { toDom } from './dom.ts';
import { paletteOf } from './theme.ts';

/** As many captures get one: a list of ten thousand is searched, not looked through. */
const PICTURES_MAX = 60;

export class SmallPictures {
  private readonly known = new Map<string, Overview>();
  private round = 0;

  /** @param list its items stand for `captures`, in their order */
  show(list: HTMLElement, captures: readonly CaptureSummary[], dark: boolean): void {
    void this.fill(list, captures, dark, ++this.round);
  }

  private async fill(list: HTMLElement, captures: readonly CaptureSummary[], dark: boolean, round: number): Promise<void> {
    for (const [i, capture] of captures.slice(0, PICTURES_MAX).entries()) {
      if (capture.state !== 'ready') continue;
      const key = `${capture.name} ${capture.written_ms}`;
      const bins = this.known.get(key) ?? (await askSmall(capture.name).catch(() => null));
      if (round !== this.round) return;
      if (bins === null) continue;
      this.known.set(key, bins);
      const link = list.children[i]?.querySelector('a');
      if (link === null || link === undefined || link.querySelector('svg') !== null) continue;
      link.append(toDom(drawSmall(bins, paletteOf(dark))));
    }
  }
}
