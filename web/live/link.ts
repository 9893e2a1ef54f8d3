// The way from the nights to the live view, which says whether anything is recorded.

/** @param running recordings under way */
export function sayRunning(link: HTMLElement, running: number): void {
  const words = running === 0 ? 'Live' : `Live: ${running} recording`;
  if (link.textContent !== words) link.textContent = words;
}
