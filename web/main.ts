// The page: wires the parts to the store, and the store to the server.

import type { Overview } from '../host/contract/api.ts';
import { mountAbout } from './about.ts';
import { mountAsked } from './asked-view.ts';
import { askOverview, wordsOf } from './ask.ts';
import { binWidth_s } from './chart/data.ts';
import { mountBay } from './bay-view.ts';
import { mountCompare } from './compare-view.ts';
import { mountControls } from './controls.ts';
import { mountCost } from './cost-view.ts';
import { mountDetails } from './details-view.ts';
import { byId } from './dom.ts';
import { mountEventList } from './event-list.ts';
import { mountFamilies } from './families-view.ts';
import { looking } from './looking.ts';
import { mountMarks } from './marks-view.ts';
import { mountMeaning } from './meaning-view.ts';
import { keepList } from './keep-list.ts';
import { keepPage } from './keep-page.ts';
import { open } from './opening.ts';
import { mountPicture } from './picture-view.ts';
import { mountReport } from './report-view.ts';
import { addressOf, mountShelf, nameOf } from './shelf.ts';
import { Store } from './store.ts';
import { mountStrip } from './strip-view.ts';
import { mountTheme, startsDark } from './theme.ts';
import { mountVerdict } from './verdict-view.ts';

const DETAIL_BINS_MAX = 4000;
const DETAIL_AFTER_MS = 70;

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
mountShelf(byId('shelf'), store);
mountVerdict(byId('verdict'), store);
mountBay(byId('bay'), store);
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
keepList(store, byId('live-link'));
keepPage();
