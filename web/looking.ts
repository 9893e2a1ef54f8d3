// Moving over the night, in words that buttons, keys, wheel, strip and list share.

import { eventsOf } from './chart/events.ts';
import type { NightEvent } from './chart/events.ts';
import type { Store } from './store.ts';
import { around, between, panned, zoomed } from './view.ts';
import type { Window } from './view.ts';

const GLIDE_MS = 260;

export interface Looking {
  /** Shows a window at once. */
  show(window: Window): void;
  /** Goes there smoothly, unless the reader asks for less motion. */
  glide(window: Window): void;
  zoom(factor: number, at_s?: number): void;
  pan(share: number): void;
  whole(): void;
  /** Selects an event and brings it into the picture. */
  goTo(id: string): void;
  /** Selects an event that is in sight already. */
  select(id: string | null): void;
  /** The event after (1) or before (-1) the selected one. */
  neighbour(direction: 1 | -1): void;
}

export function looking(store: Store): Looking {
  let glideId = 0;
  const duration_s = () => store.state.night?.duration_s ?? 1;
  const show = (window: Window) => {
    glideId++;
    store.set({ window });
  };
  const glide = (target: Window) => {
    const from = store.state.window;
    const id = ++glideId;
    if (matchMedia('(prefers-reduced-motion: reduce)').matches) {
      store.set({ window: target });
      return;
    }
    const begin_ms = performance.now();
    const go = (now_ms: number) => {
      if (id !== glideId) return;
      const share = Math.min(1, Math.max(0, (now_ms - begin_ms) / GLIDE_MS));
      store.set({ window: share === 1 ? target : between(from, target, 1 - (1 - share) ** 3) });
      if (share < 1) requestAnimationFrame(go);
    };
    requestAnimationFrame(go);
  };
  const events = (): NightEvent[] => (store.state.night === null ? [] : eventsOf(store.state.night.findings));
  const goTo = (id: string) => {
    const event = events().find((e) => e.id === id);
    if (event === undefined) return;
    store.set({ selected: id, cursor_s: null });
    glide(around(event, store.state.window, duration_s()));
  };
  return {
    show,
    glide,
    zoom(factor, at_s) {
      const { window, cursor_s } = store.state;
      const inSight = cursor_s !== null && cursor_s >= window.from_s && cursor_s <= window.to_s;
      show(zoomed(window, factor, at_s ?? (inSight ? cursor_s : (window.from_s + window.to_s) / 2), duration_s()));
    },
    pan(share) {
      const { window } = store.state;
      show(panned(window, share * (window.to_s - window.from_s), duration_s()));
    },
    whole: () => glide({ from_s: 0, to_s: duration_s() }),
    goTo,
    select: (selected) => store.set({ selected }),
    neighbour(direction) {
      const list = events();
      if (list.length === 0) return;
      const at = list.findIndex((event) => event.id === store.state.selected);
      const next = at === -1 ? (direction === 1 ? 0 : list.length - 1) : at + direction;
      const event = list[Math.min(list.length - 1, Math.max(0, next))]!;
      goTo(event.id);
    },
  };
}
