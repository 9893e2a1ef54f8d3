// The strip of the whole night in the page: its window is dragged, or moved by its
// two grips, which are also sliders for the keyboard.

import { timeWords } from '../host/say/times.ts';
import type { NightData } from './chart/data.ts';
import { drawLooked, drawStrip } from './chart/strip.ts';
import type { Strip } from './chart/strip.ts';
import { html, toDom } from './dom.ts';
import type { Looking } from './looking.ts';
import type { PictureView } from './picture-view.ts';
import type { State, Store } from './store.ts';
import { pageSurface } from './surface.ts';
import { CLOSEST_S, fitted } from './view.ts';
import type { Window } from './view.ts';

const HEIGHT = 96;
/** How far a grip's reach extends outside and inside its end. */
const GRIP_OUT_PX = 22;
const GRIP_IN_PX = 6;

export function mountStrip(place: HTMLElement, store: Store, look: Looking, picture: PictureView): void {
  let strip: Strip | null = null;
  let width = place.clientWidth;
  const drawing = html('div', { 'aria-hidden': 'true' });
  const surfaceOf = ({ dark }: Pick<State, 'dark'>) => pageSurface(width, HEIGHT, dark);
  const grips = [grip('from', store, look), grip('to', store, look)];
  place.append(drawing, ...grips);

  let looked: Node | null = null;
  const draw = (state: State) => {
    looked = null;
    if (state.night === null || width < 50) {
      drawing.replaceChildren();
      strip = null;
      grips.forEach((each) => (each.hidden = true));
      return;
    }
    strip = drawStrip(state.night, state.scale, surfaceOf(state), picture.plotLeft());
    drawing.replaceChildren(toDom(strip.svg));
    drawWindow(state);
  };
  const drawWindow = ({ night, window, dark }: State) => {
    if (night === null || strip === null) return;
    looked?.parentNode?.removeChild(looked);
    looked = drawing.firstChild!.appendChild(toDom(drawLooked(window, strip, surfaceOf({ dark }))));
    const words = timeWords(night.start_ms);
    const ends = [window.from_s, window.to_s];
    grips.forEach((each, i) => {
      each.hidden = false;
      each.style.left = `${strip!.x(ends[i]!) - (i === 0 ? GRIP_OUT_PX : GRIP_IN_PX)}px`;
      each.style.top = `${strip!.plot.y}px`;
      each.style.height = `${strip!.plot.height}px`;
      each.setAttribute('aria-valuemin', '0');
      each.setAttribute('aria-valuemax', String(Math.round(night.duration_s)));
      each.setAttribute('aria-valuenow', String(Math.round(ends[i]!)));
      each.setAttribute('aria-valuetext', words.seconds(ends[i]!));
    });
  };
  new ResizeObserver(() => {
    if (place.clientWidth === width) return;
    width = place.clientWidth;
    draw(store.state);
  }).observe(place);
  store.listen((state, before) => {
    if (isSameNight(state.night, before.night) && state.scale === before.scale && state.dark === before.dark) {
      if (state.window !== before.window) drawWindow(state);
    } else draw(state);
  });
  listenToDrag(place, store, look, () => strip);
}

/** Finer bins of a part, and marks, are not in the strip. */
function isSameNight(now: NightData | null, before: NightData | null): boolean {
  return (
    now === before ||
    (now !== null && before !== null && now.whole === before.whole && now.findings === before.findings)
  );
}

function grip(end: 'from' | 'to', store: Store, look: Looking): HTMLElement {
  const keydown = (event: Event) => {
    if (!(event instanceof KeyboardEvent)) return;
    const { night, window } = store.state;
    const share = {
      ArrowLeft: -0.01,
      ArrowDown: -0.01,
      ArrowRight: 0.01,
      ArrowUp: 0.01,
      PageUp: 0.1,
      PageDown: -0.1,
      Home: -1,
      End: 1,
    }[event.key];
    if (night === null || share === undefined) return;
    event.preventDefault();
    look.show(
      moved(window, end, (end === 'from' ? window.from_s : window.to_s) + share * night.duration_s, night.duration_s),
    );
  };
  return html('div', {
    class: 'grip',
    role: 'slider',
    tabindex: '0',
    hidden: true,
    keydown,
    'data-end': end,
    'aria-label': end === 'from' ? 'Start of the part in the picture' : 'End of the part in the picture',
  });
}

/** One end put elsewhere, the other where it was. */
function moved(window: Window, end: 'from' | 'to', at_s: number, duration_s: number): Window {
  const least_s = Math.min(duration_s, Math.max(CLOSEST_S, duration_s / 2000));
  return end === 'from'
    ? { from_s: Math.max(0, Math.min(at_s, window.to_s - least_s)), to_s: window.to_s }
    : { from_s: window.from_s, to_s: Math.min(duration_s, Math.max(at_s, window.from_s + least_s)) };
}

function listenToDrag(place: HTMLElement, store: Store, look: Looking, strip: () => Strip | null): void {
  let drag: { kind: 'from' | 'to' | 'whole'; offset_s: number } | null = null;
  const at = (event: PointerEvent, now: Strip) => now.x.invert(event.clientX - place.getBoundingClientRect().left);
  place.addEventListener('pointerdown', (event) => {
    const now = strip();
    const { night, window } = store.state;
    if (now === null || night === null || event.button !== 0) return;
    const t_s = at(event, now);
    const end = event.target instanceof HTMLElement ? event.target.dataset['end'] : undefined;
    const isWhole = window.to_s - window.from_s >= night.duration_s;
    if (end === 'from' || end === 'to') drag = { kind: end, offset_s: 0 };
    else {
      const span = isWhole ? night.duration_s / 6 : window.to_s - window.from_s;
      const inSight = !isWhole && t_s >= window.from_s && t_s <= window.to_s;
      // A press outside the window brings the window there.
      if (!inSight) look.show(fitted({ from_s: t_s - span / 2, to_s: t_s + span / 2 }, night.duration_s));
      drag = { kind: 'whole', offset_s: t_s - store.state.window.from_s };
    }
    place.setPointerCapture(event.pointerId);
  });
  place.addEventListener('pointermove', (event) => {
    const now = strip();
    const { night, window } = store.state;
    if (drag === null || now === null || night === null) return;
    const t_s = at(event, now);
    if (drag.kind !== 'whole') look.show(moved(window, drag.kind, t_s, night.duration_s));
    else {
      const span = window.to_s - window.from_s;
      const from_s = Math.min(Math.max(0, t_s - drag.offset_s), night.duration_s - span);
      look.show({ from_s, to_s: from_s + span });
    }
  });
  const end = () => (drag = null);
  place.addEventListener('pointerup', end);
  place.addEventListener('pointercancel', end);
}
