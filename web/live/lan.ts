// The code that lets a tablet or phone in: shown on the computer alone, another after
// each use.

import type { LanState } from '../../host/contract/api.ts';
import { html } from '../dom.ts';

/** While it is in sight: a code that was used must not stay there. */
const LOOK_MS = 1500;

async function askLan(): Promise<LanState | null> {
  const response = await fetch('api/lan').catch(() => null);
  return response?.ok === true ? ((await response.json()) as LanState) : null;
}

/** As a data address: the browser would keep the picture of an address, and show the code that was used. */
async function askCode(): Promise<string> {
  const response = await fetch('api/lan/code.svg').catch(() => null);
  return response?.ok === true ? `data:image/svg+xml,${encodeURIComponent(await response.text())}` : '';
}

/** @param place a `details` of the page; hidden where this device came in by such a code itself */
export function mountLan(place: HTMLDetailsElement): void {
  const body = html('div', { class: 'lan' });
  place.append(html('summary', {}, ['Tablet or phone in the bay']), body);
  let shown: string | null = null;
  const look = async () => {
    const state = await askLan();
    if (state === null) return;
    place.hidden = false;
    const told = JSON.stringify(state);
    if (told === shown) return;
    shown = told;
    body.replaceChildren(...(state.on ? drawOn(state, await askCode(), renew) : drawOff()));
  };
  const renew = async () => {
    await fetch('api/lan/renew', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: '{}' }).catch(
      () => null,
    );
    await look();
  };
  place.addEventListener('toggle', () => void look());
  setInterval(() => {
    if (place.open && !document.hidden) void look();
  }, LOOK_MS);
  void look();
}

function drawOff(): HTMLElement[] {
  return [
    html('p', {}, [
      'Only this computer can open this page. To follow a recording from the bay, stop nightdraw here and start it with',
    ]),
    html('p', {}, [html('code', {}, ['nightdraw serve --lan'])]),
    html('p', {}, ['then scan the code that stands here and in its terminal.']),
  ];
}

function drawOn(
  { url, devices }: Extract<LanState, { on: true }>,
  code: string,
  renew: () => Promise<void>,
): HTMLElement[] {
  return [
    html('img', { src: code, alt: 'Code to scan with the tablet or phone', class: 'code' }),
    html('div', {}, [
      html('p', {}, ['Scan this with the tablet or phone. It lets one device in; then another code stands here.']),
      html('p', { class: 'lan-url' }, [url]),
      html('p', { class: 'devices', role: 'status' }, [
        devices === 0 ? 'No device is in.' : devices === 1 ? 'One device is in.' : `${devices} devices are in.`,
      ]),
      html('p', { class: 'more' }, ['What goes over the network is not encrypted: only in a network that you trust.']),
      html('button', { type: 'button', click: () => void renew() }, ['Make a new code']),
    ]),
  ];
}
