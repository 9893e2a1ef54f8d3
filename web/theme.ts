// Light or dark: what the machine asks for until the reader chooses; always light
// on paper. The colours are the chart's own, given to the style sheet as variables.

import { DARK, LIGHT } from './chart/palette.ts';
import type { Palette } from './chart/palette.ts';
import { html } from './dom.ts';

const KEY = 'nightdraw.theme';

export function paletteOf(dark: boolean): Palette {
  return dark ? DARK : LIGHT;
}

/** What the reader chose, else what the machine asks for. */
export function startsDark(): boolean {
  const chosen = readChoice();
  return chosen === null ? matchMedia('(prefers-color-scheme: dark)').matches : chosen === 'dark';
}

function readChoice(): string | null {
  try {
    return localStorage.getItem(KEY);
  } catch {
    return null;
  }
}

function keepChoice(dark: boolean): void {
  try {
    localStorage.setItem(KEY, dark ? 'dark' : 'light');
  } catch {
    // A browser that keeps nothing still switches.
  }
}

function applyPalette(dark: boolean): void {
  const root = document.documentElement;
  root.style.colorScheme = dark ? 'dark' : 'light';
  for (const [name, value] of Object.entries(paletteOf(dark))) {
    root.style.setProperty(`--${name.replace(/[A-Z]/g, (c) => `-${c.toLowerCase()}`)}`, value as string);
  }
}

/** What a page keeps of it: its store, or the little that the live view has. */
export interface Themed {
  readonly state: { readonly dark: boolean };
  set(part: { dark: boolean }): void;
  /** Tells listeners now; printing cannot wait for a frame. */
  tell(): void;
  listen(listener: (state: { dark: boolean }, before: { dark: boolean }) => void): void;
}

export function mountTheme(place: HTMLElement, store: Themed): void {
  const button = html('button', {
    type: 'button',
    class: 'quiet',
    click: () => {
      keepChoice(!store.state.dark);
      store.set({ dark: !store.state.dark });
    },
  });
  const show = (dark: boolean) => {
    applyPalette(dark);
    button.textContent = dark ? 'Light' : 'Dark';
    button.setAttribute('aria-label', dark ? 'Switch to light colours' : 'Switch to dark colours');
  };
  show(store.state.dark);
  store.listen((state, before) => {
    if (state.dark !== before.dark) show(state.dark);
  });
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', (event) => {
    if (readChoice() === null) store.set({ dark: event.matches });
  });
  let beforePrint: boolean | null = null;
  addEventListener('beforeprint', () => {
    beforePrint = store.state.dark;
    store.set({ dark: false });
    store.tell();
  });
  addEventListener('afterprint', () => {
    if (beforePrint !== null) store.set({ dark: beforePrint });
    beforePrint = null;
  });
  place.replaceChildren(button);
}
