// The picture in the page: draws it on every change, and turns wheel, drag, pinch,
// keys and hover into moves and readings.

import { drawPicture } from './chart/picture.ts';
import type { Picture } from './chart/picture.ts';
import type { View } from './chart/data.ts';
import { binsFor, binWidth_s } from './chart/data.ts';
import { drawReading, readAt } from './chart/reading.ts';
import { railRows } from './chart/events.ts';
import { toDom } from './dom.ts';
import type { Looking } from './looking.ts';
import type { State, Store } from './store.ts';
import { pageSurface } from './surface.ts';
import { panned, zoomed } from './view.ts';

/** A pointer that moved less than this was a click. */
const CLICK_PX = 4;
/** Height of the picture, least and most; that of a row of ticks above it; what is kept free beneath. */
const LEAST_PX = 300;
const MOST_PX = 860;
const RAIL_ROW_PX = 20;
const BENEATH_PX = 8;

export function viewOf(state: State): View {
  return { ...state.window, scale: state.scale, selected: state.selected };
}

export interface PictureView {
  /** Where the plot begins, for what stands beneath it. */
  plotLeft(): number;
}

export function mountPicture(place: HTMLElement, output: HTMLElement, store: Store, look: Looking): PictureView {
  let picture: Picture | null = null;
  let width = place.clientWidth;
  const pictureBox = document.createElement('div');
  const over = document.createElementNS('http://www.w3.org/2000/svg', 'svg');
  over.setAttribute('class', 'over');
  over.setAttribute('aria-hidden', 'true');
  place.append(pictureBox, over);

  let height = 0;
  const surfaceOf = (state: State) => pageSurface(width, height, state.dark);
  const draw = (state: State) => {
    if (state.night === null || width < 50) {
      pictureBox.replaceChildren();
      picture = null;
      height = 0;
      return;
    }
    // A night keeps its height while it is moved in.
    if (height === 0) height = pictureHeight(width, place, state);
    const surface = surfaceOf(state);
    picture = drawPicture(state.night, viewOf(state), surface);
    pictureBox.replaceChildren(toDom(picture.svg));
    over.setAttribute('width', String(surface.width));
    over.setAttribute('height', String(surface.height));
  };
  const drawOver = (state: State) => {
    over.replaceChildren();
    if (state.night === null || picture === null) return;
    if (state.cursor_s === null) {
      output.textContent = '';
      return;
    }
    const reading = readAt(state.night, viewOf(state), state.cursor_s);
    over.append(toDom(drawReading(reading, picture, surfaceOf(state))));
    output.textContent = reading.sentence;
  };
  new ResizeObserver(() => {
    if (place.clientWidth === width) return;
    width = place.clientWidth;
    height = 0;
    draw(store.state);
    drawOver(store.state);
  }).observe(place);
  store.listen((state, before) => {
    const same =
      state.night === before.night &&
      state.window === before.window &&
      state.scale === before.scale &&
      state.selected === before.selected &&
      state.dark === before.dark;
    if (state.night?.findings !== before.night?.findings) height = 0;
    if (!same) draw(state);
    if (!same || state.cursor_s !== before.cursor_s) drawOver(state);
  });
  listenToPointers(place, store, look, () => picture);
  listenToKeys(place, store, look, () => width);
  return { plotLeft: () => picture?.plot.x ?? 0 };
}

/** Tall enough to read; else as tall as the first screen has room for beneath the verdict. */
function pictureHeight(width: number, place: HTMLElement, state: State): number {
  const rows = state.night === null ? 0 : Math.min(4, railRows(state.night.findings, 4).length);
  const least = LEAST_PX + Math.max(0, rows - 1) * RAIL_ROW_PX;
  const most = Math.min(MOST_PX, (width < 560 ? 400 : 320 + width * 0.24) + rows * RAIL_ROW_PX);
  const left = innerHeight - (place.getBoundingClientRect().top + scrollY) - BENEATH_PX;
  return Math.round(Math.max(least, Math.min(most, left)));
}

// oxlint-disable-next-line max-lines-per-function -- one gesture is told by the listeners of all pointers together
function listenToPointers(place: HTMLElement, store: Store, look: Looking, picture: () => Picture | null): void {
  const fingers = new Map<number, { x: number; y: number }>();
  let moved_px = 0;
  const local = (event: PointerEvent | WheelEvent) => event.clientX - place.getBoundingClientRect().left;
  const duration_s = () => store.state.night?.duration_s ?? 1;

  place.addEventListener(
    'wheel',
    (event) => {
      const now = picture();
      if (now === null) return;
      const unit = event.deltaMode === WheelEvent.DOM_DELTA_LINE ? 16 : 1;
      const { window } = store.state;
      const sideways = Math.abs(event.deltaX) > Math.abs(event.deltaY) || event.shiftKey;
      const next = sideways
        ? panned(
            window,
            (((event.deltaX || event.deltaY) * unit) / now.plot.width) * (window.to_s - window.from_s),
            duration_s(),
          )
        : zoomed(
            window,
            Math.exp(Math.max(-1, Math.min(1, event.deltaY * unit * 0.0022))),
            now.x.invert(local(event)),
            duration_s(),
          );
      // At the whole night there is nothing wider: the wheel then scrolls the page.
      if (next.from_s === window.from_s && next.to_s === window.to_s) return;
      event.preventDefault();
      look.show(next);
    },
    { passive: false },
  );

  place.addEventListener('pointerdown', (event) => {
    if (event.button !== 0) return;
    if (fingers.size === 0) moved_px = 0;
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  });
  place.addEventListener('pointermove', (event) => {
    const now = picture();
    if (now === null) return;
    const last = fingers.get(event.pointerId);
    if (last === undefined) {
      if (event.pointerType === 'mouse') hover(now, local(event));
      return;
    }
    const others = [...fingers].filter(([id]) => id !== event.pointerId).map(([, at]) => at);
    moved_px += Math.abs(event.clientX - last.x);
    if (moved_px > CLICK_PX && !place.hasPointerCapture(event.pointerId)) place.setPointerCapture(event.pointerId);
    const { window } = store.state;
    const perPx_s = (window.to_s - window.from_s) / now.plot.width;
    if (others.length === 0) {
      if (moved_px > CLICK_PX) look.show(panned(window, -(event.clientX - last.x) * perPx_s, duration_s()));
    } else {
      const other = others[0]!;
      const before = Math.max(12, Math.abs(last.x - other.x));
      const after = Math.max(12, Math.abs(event.clientX - other.x));
      const middle = (event.clientX + other.x) / 2 - place.getBoundingClientRect().left;
      const closer = zoomed(window, before / after, now.x.invert(middle), duration_s());
      look.show(panned(closer, -((event.clientX - last.x) / 2) * perPx_s, duration_s()));
    }
    fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  });
  const lift = (event: PointerEvent) => {
    const known = fingers.delete(event.pointerId);
    const now = picture();
    if (!known || event.type !== 'pointerup' || moved_px > CLICK_PX || now === null) return;
    const target = event.target instanceof Element ? event.target.closest('[data-event]') : null;
    const id = target?.getAttribute('data-event') ?? null;
    if (id !== null) look.select(id);
    else hover(now, local(event));
  };
  place.addEventListener('pointerup', lift);
  place.addEventListener('pointercancel', lift);
  place.addEventListener('pointerleave', (event) => {
    if (event.pointerType === 'mouse' && fingers.size === 0 && document.activeElement !== place)
      store.set({ cursor_s: null });
  });
  place.addEventListener('dblclick', (event) => {
    const now = picture();
    if (now !== null)
      look.glide(
        zoomed(
          store.state.window,
          0.25,
          now.x.invert(event.clientX - place.getBoundingClientRect().left),
          duration_s(),
        ),
      );
  });

  function hover(now: Picture, x_px: number): void {
    const inside = x_px >= now.plot.x && x_px <= now.plot.x + now.plot.width;
    store.set({ cursor_s: inside ? now.x.invert(x_px) : null });
  }
}

function listenToKeys(place: HTMLElement, store: Store, look: Looking, width: () => number): void {
  const read = (direction: 1 | -1) => {
    const { night, window, cursor_s } = store.state;
    if (night === null) return;
    // One reading further, or one pixel where readings are finer than that.
    const step_s = Math.max(
      binWidth_s(binsFor(night, viewOf(store.state))),
      ((window.to_s - window.from_s) / Math.max(1, width())) * 2,
    );
    const inSight = cursor_s !== null && cursor_s >= window.from_s && cursor_s <= window.to_s;
    const from_s = inSight ? cursor_s : (window.from_s + window.to_s) / 2;
    const next_s = Math.min(night.duration_s, Math.max(0, from_s + direction * step_s));
    store.set({ cursor_s: next_s });
    if (next_s < window.from_s || next_s > window.to_s) look.show(panned(window, next_s - from_s, night.duration_s));
  };
  const keys: Record<string, () => void> = {
    ArrowLeft: () => read(-1),
    ArrowRight: () => read(1),
    'Shift ArrowLeft': () => look.pan(-0.25),
    'Shift ArrowRight': () => look.pan(0.25),
    '+': () => look.zoom(0.6),
    '=': () => look.zoom(0.6),
    '-': () => look.zoom(1 / 0.6),
    ArrowUp: () => look.zoom(0.6),
    ArrowDown: () => look.zoom(1 / 0.6),
    '0': () => look.whole(),
    Home: () => look.pan(-1e9),
    End: () => look.pan(1e9),
    PageDown: () => look.neighbour(1),
    PageUp: () => look.neighbour(-1),
    Escape: () => store.set({ cursor_s: null, selected: null }),
  };
  place.addEventListener('keydown', (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const sideways = event.key === 'ArrowLeft' || event.key === 'ArrowRight';
    const action = keys[event.shiftKey && sideways ? `Shift ${event.key}` : event.key];
    if (action === undefined) return;
    event.preventDefault();
    action();
  });
}
