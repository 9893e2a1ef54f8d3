// Lets the browser keep the page's own files (worker.ts), where it offers that: on this computer,
// not over the local network, since a page there is no secure context.

export function keepPage(): void {
  if (!('serviceWorker' in navigator)) return;
  // After the page: what is shown comes first. A browser that keeps nothing shows the page all the same.
  const keep = () => void navigator.serviceWorker.register('./worker.js').catch(() => undefined);
  if (document.readyState === 'complete') keep();
  else addEventListener('load', keep);
}
