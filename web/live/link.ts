// The way from the nights to the live view, which says whether anything is recorded.

import { askRecordings } from './send.ts';
import { runs } from './state.ts';

const AGAIN_MS = 10_000;

export function mountLiveLink(link: HTMLElement): void {
  const look = async () => {
    if (document.hidden) return;
    try {
      const running = (await askRecordings()).recordings.filter(runs).length;
      link.textContent = running === 0 ? 'Live' : `Live: ${running} recording`;
    } catch {
      // The page's own message tells that nobody answers.
    }
  };
  void look();
  setInterval(() => void look(), AGAIN_MS);
}
