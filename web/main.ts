// The page: wires the parts to the store, and the store to the server.

import type { Overview } from '../host/server/api.ts';
import { mountAbout } from './about.ts';
import { askFindings, askInfo, askList, askOverview, AskError } from './ask.ts';
import { binWidth_s } from './chart/data.ts';
import { byId } from './dom.ts';
import { mountControls } from './controls.ts';
import { mountEventList } from './event-list.ts';
import { looking } from './looking.ts';
import { mountPicture } from './picture-view.ts';
import { addressOf, mountShelf, nameOf, titleOf } from './shelf.ts';
import { Store } from './store.ts';
import { mountStrip } from './strip-view.ts';
import { mountTheme, startsDark } from './theme.ts';
import { mountVerdict } from './verdict-view.ts';

const WHOLE_BINS = 3000;
const DETAIL_BINS_MAX = 4000;
const DETAIL_AFTER_MS = 70;
const ASK_AGAIN_MS = 1500;
/** A night that begins to be recorded appears in the list after this long. */
const LIST_AGAIN_MS = 15_000;

const store = new Store({
  captures: [], name: null, info: null, night: null, window: { from_s: 0, to_s: 1 }, scale: 'log',
  selected: null, cursor_s: null, dark: startsDark(), message: null,
}, (work) => requestAnimationFrame(work));
const look = looking(store);

const wait = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));
const wordsOf = (error: unknown) => (error instanceof Error ? error.message : String(error));

/** Keeps the list fresh: soon while captures are still being read, else now and then. */
async function keepList(): Promise<void> {
  let told: string | null = null;
  for (;;) {
    let again_ms = ASK_AGAIN_MS;
    try {
      const { captures } = await askList();
      if (JSON.stringify(captures) !== JSON.stringify(store.state.captures)) store.set({ captures });
      if (told !== null && store.state.message === told) store.set({ message: null });
      told = null;
      if (store.state.name === null) openFirst();
      if (captures.every((capture) => capture.state !== 'waiting')) again_ms = LIST_AGAIN_MS;
    } catch (error) {
      told = wordsOf(error);
      store.set({ message: told });
    }
    await wait(again_ms);
    await visible();
  }
}

/** Resolves at once, or when somebody looks at the page again. */
function visible(): Promise<void> {
  if (!document.hidden) return Promise.resolve();
  return new Promise((resolve) => {
    const look = () => {
      if (document.hidden) return;
      document.removeEventListener('visibilitychange', look);
      resolve();
    };
    document.addEventListener('visibilitychange', look);
  });
}

/** The capture that the address names, else the one written last. */
function openFirst(): void {
  const { captures } = store.state;
  const asked = nameOf(location.hash);
  const newest = captures.filter((capture) => capture.state !== 'unreadable').sort((a, b) => b.written_ms - a.written_ms)[0] ?? captures[0];
  const name = asked ?? newest?.name ?? null;
  if (name === null) store.set({ message: 'There is no capture in this folder yet. Record a night, or put a CSV file there: it appears here by itself.' });
  else void open(name);
}

async function open(name: string): Promise<void> {
  store.set({ name, message: null });
  document.title = `${titleOf(name)} · nightdraw`;
  byId('main').setAttribute('aria-busy', 'true');
  try {
    const [info, findings] = await Promise.all([askInfo(name), askFindings(name)]);
    const whole = await askOverview(name, 0, Math.max(info.duration_s, 1e-3), WHOLE_BINS);
    if (store.state.name !== name) return;
    store.set({
      info, window: { from_s: 0, to_s: info.duration_s }, selected: null, cursor_s: null, message: null,
      night: { start_ms: info.start_ms, duration_s: info.duration_s, findings, whole, detail: null, marks: info.marks },
    });
  } catch (error) {
    if (store.state.name !== name) return;
    store.set({ message: wordsOf(error), night: null, info: null });
    if (error instanceof AskError && error.status === null) {
      await wait(ASK_AGAIN_MS);
      if (store.state.name === name) void open(name);
    }
  } finally {
    byId('main').removeAttribute('aria-busy');
  }
}

/** Finer bins for what is looked at, with half a window on each side to move into. */
function keepDetail(): void {
  let timer: ReturnType<typeof setTimeout> | undefined;
  let asked: AbortController | null = null;
  const place = byId('picture');
  const ask = async () => {
    const { name, night, window } = store.state;
    if (name === null || night === null) return;
    const span_s = window.to_s - window.from_s;
    const px = Math.max(300, place.clientWidth);
    const fineEnough = (bins: Overview | null) =>
      bins !== null && bins.from_s <= window.from_s && bins.to_s >= window.to_s && binWidth_s(bins) <= (1.2 * span_s) / px;
    asked?.abort();
    if (fineEnough(night.whole) || fineEnough(night.detail)) {
      place.removeAttribute('aria-busy');
      return;
    }
    const own = (asked = new AbortController());
    const from_s = Math.max(0, window.from_s - span_s / 2);
    const to_s = Math.min(night.duration_s, window.to_s + span_s / 2);
    const bins = Math.min(DETAIL_BINS_MAX, Math.ceil(((to_s - from_s) / span_s) * px));
    try {
      const detail = await askOverview(name, from_s, to_s, bins, own.signal);
      const now = store.state.night;
      if (now !== null && store.state.name === name) store.set({ night: { ...now, detail }, message: null });
    } catch (error) {
      if (!own.signal.aborted) store.set({ message: wordsOf(error) });
    } finally {
      if (asked === own) place.removeAttribute('aria-busy');
    }
  };
  store.listen((state, before) => {
    if (state.window === before.window && state.night?.whole === before.night?.whole) return;
    clearTimeout(timer);
    place.setAttribute('aria-busy', 'true');
    timer = setTimeout(() => void ask(), DETAIL_AFTER_MS);
  });
}

function mountMessage(place: HTMLElement): void {
  store.listen((state, before) => {
    // Without a night there is nothing to move in.
    byId('verdict').hidden = byId('desk').hidden = state.night === null;
    if (state.message === before.message) return;
    place.hidden = state.message === null;
    place.textContent = state.message ?? '';
  });
}

mountTheme(byId('theme'), store);
mountMessage(byId('message'));
mountShelf(byId('shelf'), store);
mountVerdict(byId('verdict'), store);
mountControls(byId('scale'), byId('moves'), store, look);
const picture = mountPicture(byId('picture'), byId('reading'), store, look);
mountStrip(byId('strip'), store, look, picture);
mountEventList(byId('events'), store, look);
mountAbout(byId('about'), store);
keepDetail();
addEventListener('hashchange', () => {
  const name = nameOf(location.hash);
  if (name !== null && addressOf(name) !== addressOf(store.state.name ?? '')) void open(name);
});
void keepList();
