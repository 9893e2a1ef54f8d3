// The live page's share of the theme: it keeps nothing else that the pages have in common.

import { mountTheme, startsDark } from '../theme.ts';
import type { Themed } from '../theme.ts';

/** @param changed called when light and dark were switched */
export function mountLiveTheme(place: HTMLElement, changed: () => void): Themed {
  let state = { dark: startsDark() };
  const listeners: Parameters<Themed['listen']>[0][] = [];
  const themed: Themed = {
    get state() {
      return state;
    },
    set(part) {
      const before = state;
      state = { ...part };
      for (const listener of listeners) listener(state, before);
      changed();
    },
    tell: () => undefined,
    listen: (listener) => void listeners.push(listener),
  };
  mountTheme(place, themed);
  return themed;
}
