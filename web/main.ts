// The page: wires the parts to the store, and the store to the server.

import type { CaptureSummary, Overview } from '../host/contract/api.ts';
import { mountAbout } from './about.ts';
import { mountAsked } from './asked-view.ts';
import { askList, askOverview, wordsOf } from './ask.ts';
import { binWidth_s } from './chart/data.ts';
import { mountCompare } from './compare-view.ts';
import { mountControls } from './controls.ts';
import { mountCost } from './cost-view.ts';
import { mountDetails } from './details-view.ts';
import { byId } from './dom.ts';
import { mountEventList } from './event-list.ts';
import { mountLiveLink } from './live/link.ts';
import { mountFamilies } from './families-view.ts';
import { looking } from './looking.ts';
import { mountMarks } from './marks-view.ts';
import { mountMeaning } from './meaning-view.ts';
import { firstToOpen, keptKnown, newestFirst } from './nights.ts';
import { open, refresh, wait } from './opening.ts';
import { mountPicture } from './picture-view.ts';
import { mountReport } from './report-view.ts';
import { addressOf, mountShelf, nameOf } from './shelf.ts';
import { Store } from './store.ts';
import { mountStrip } from './strip-view.ts';
import { mountTheme, startsDark } from './theme.ts';
import { mountVerdict } from './verdict-view.ts';

const DETAIL_BINS_MAX = 4000;
const DETAIL_AFTER_MS = 70;
const ASK_AGAIN_MS = 1500;
/** A night that begins to be recorded appears, and one that goes on grows, after this long. */
const LIST_AGAIN_MS = 5000;
/** Nights still being read at the start may be the newest; they are waited for this long. */
const FIRST_WITHIN_MS = 4000;
const FIRST_AGAIN_MS = 250;

const store = new Store(
  {
    captures: [],
    total: 0,
    name: null,
    info: null,
    night: null,
    pending: false,
    asked: {},
    window: { from_s: 0, to_s: 1 },
    scale: 'log',
    selected: null,
    cursor_s: null,
    dark: startsDark(),
    message: null,
  },
  (work) => requestAnimationFrame(work),
);
const look = looking(store);

/** Keeps the list fresh, and the open night too where its file grows. */
async function keepList(): Promise<void> {
  let told: string | null = null;
  const begin_ms = performance.now();
  for (;;) {
    let again_ms = LIST_AGAIN_MS;
    try {
      const { captures: fresh, total } = await askList();
      const grown = grownName(fresh);
      const captures = newestFirst(keptKnown(fresh, store.state.captures));
      if (JSON.stringify(captures) !== JSON.stringify(store.state.captures)) store.set({ captures, total });
      if (store.state.name === null) openFirst(performance.now() - begin_ms < FIRST_WITHIN_MS);
      else if (grown !== null) await refresh(store, grown);
      if (store.state.name === null && captures.length > 0) again_ms = FIRST_AGAIN_MS;
      else if (fresh.some((capture) => capture.state === 'waiting')) again_ms = ASK_AGAIN_MS;
      if (told !== null && store.state.message === told) store.set({ message: null });
      told = null;
    } catch (error) {
      told = wordsOf(error);
      store.set({ message: told });
    }
    await wait(again_ms);
    await visible();
  }
}

/** The open capture's name, where its file is read anew or tells of another length than is shown. */
function grownName(fresh: CaptureSummary[]): string | null {
  const { name, night, captures } = store.state;
  const now = fresh.find((capture) => capture.name === name);
  if (night === null || now === undefined || now.state === 'unreadable') return null;
  // While a recording runs every look at the list may find it waiting: asking for the findings waits for them.
  const grown =
    now.state === 'waiting'
      ? captures.some((capture) => capture.name === name && capture.state === 'ready')
      : now.duration_s !== night.findings.trace.duration_s;
  return grown ? now.name : null;
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

/** The newest night, where the address names none. */
function openFirst(patient: boolean): void {
  const { captures } = store.state;
  const name = firstToOpen(captures, patient);
  if (name !== null) void open(store, name);
  else if (captures.length === 0)
    store.set({
      message:
        'There is no capture in this folder yet. Record a night, or put a CSV file there: it appears here by itself.',
    });
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
      bins !== null &&
      bins.from_s <= window.from_s &&
      bins.to_s >= window.to_s &&
      binWidth_s(bins) <= (1.2 * span_s) / px;
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
mountLiveLink(byId('live-link'));
mountShelf(byId('shelf'), store);
mountVerdict(byId('verdict'), store);
mountControls(byId('scale'), byId('moves'), store, look);
const picture = mountPicture(byId('picture'), byId('reading'), store, look);
mountStrip(byId('strip'), store, look, picture);
mountEventList(byId('events'), store, look);
mountCost(byId('cost'), store);
mountMeaning(byId('meaning'), store);
mountMarks(byId('marks'), store, look);
mountFamilies(byId('families'), store, look);
mountAsked(byId('asked'), store);
mountCompare(byId('compare'), store);
mountDetails(byId('details'), store);
mountReport(byId('report'), store);
mountAbout(byId('about'), store);
keepDetail();
addEventListener('hashchange', () => {
  const name = nameOf(location.hash);
  if (name !== null && addressOf(name) !== addressOf(store.state.name ?? '')) void open(store, name);
});
const named = nameOf(location.hash);
if (named !== null) void open(store, named);
void keepList();
