// Keeps the list of captures fresh, and the open night where its file grows: asked for when
// the server tells that something is another, and not before.

import type { CaptureSummary, ListChanged } from '../host/contract/api.ts';
import { askList, wordsOf } from './ask.ts';
import { sayRunning } from './live/link.ts';
import { Stream } from './live/stream.ts';
import { firstToOpen, keptKnown, newestFirst } from './nights.ts';
import { open, refresh } from './opening.ts';
import type { Store } from './store.ts';

/** The list is not asked for more often than this while a night is open: hundreds may be read one after the other. */
const SPACED_MS = 1000;
/** Nights still being read at the start may be the newest; they are waited for this long. */
const FIRST_WITHIN_MS = 4000;
/** Where the stream is refused, or says nothing of a night that is being read, the list is asked for this often. */
const UNTOLD_MS = 15_000;

class ListKeeper {
  private readonly begin_ms = performance.now();
  private asked_ms = -Infinity;
  private version: string | null = null;
  private timer: ReturnType<typeof setTimeout> | null = null;
  private at_ms = Infinity;
  private asking = false;
  /** Told of while the list was asked for. */
  private againAsked = false;
  /** Something about the open capture is another, whether it is among those listed or not. */
  private openChanged = false;
  private told: string | null = null;

  constructor(private readonly store: Store) {}

  heard({ version, names }: ListChanged): void {
    if (version === this.version) return;
    this.openChanged ||= names === null || names.includes(this.store.state.name ?? '');
    this.soon();
  }

  soon(): void {
    if (this.asking) {
      this.againAsked = true;
      return;
    }
    const spaced_ms = this.store.state.name === null ? 0 : SPACED_MS;
    this.after(Math.max(0, this.asked_ms + spaced_ms - performance.now()));
  }

  /** Not asked more often than this, whoever wants it: nobody tells of changes. */
  untold(): void {
    this.after(Math.max(0, this.asked_ms + UNTOLD_MS - performance.now()));
  }

  /** The earlier of two stays. */
  private after(ms: number): void {
    const at_ms = performance.now() + ms;
    if (this.timer !== null) {
      if (this.at_ms <= at_ms) return;
      clearTimeout(this.timer);
    }
    this.at_ms = at_ms;
    this.timer = setTimeout(() => {
      this.timer = null;
      // A page that nobody sees asks nothing; the stream tells it when somebody looks again.
      if (!document.hidden) void this.ask();
    }, ms);
  }

  private async ask(): Promise<void> {
    this.asking = true;
    this.asked_ms = performance.now();
    const openChanged = this.openChanged;
    this.openChanged = false;
    const { store } = this;
    try {
      const { captures: fresh, total, version } = await askList();
      this.version = version;
      const grown = grownName(store, fresh, openChanged);
      const captures = newestFirst(keptKnown(fresh, store.state.captures));
      if (total !== store.state.total || JSON.stringify(captures) !== JSON.stringify(store.state.captures))
        store.set({ captures, total });
      if (store.state.name === null) this.openFirst();
      else if (grown !== null) await refresh(store, grown);
      if (this.told !== null && store.state.message === this.told) store.set({ message: null });
      this.told = null;
      if (fresh.some((capture) => capture.state === 'waiting')) this.untold();
    } catch (error) {
      this.told = wordsOf(error);
      store.set({ message: this.told });
      this.version = null;
      this.untold();
    } finally {
      this.asking = false;
      if (this.againAsked) {
        this.againAsked = false;
        this.soon();
      }
    }
  }

  /** The newest night, where the address names none. */
  private openFirst(): void {
    const { store } = this;
    const left_ms = this.begin_ms + FIRST_WITHIN_MS - performance.now();
    const { captures } = store.state;
    const name = firstToOpen(captures, left_ms > 0);
    if (name !== null) void open(store, name);
    else if (captures.length === 0)
      store.set({
        message:
          'There is no capture in this folder yet. Record a night, or put a CSV file there: it appears here by itself.',
      });
    else setTimeout(() => store.state.name ?? this.openFirst(), left_ms);
  }
}

/** The open capture's name, where its file is read anew or tells of another length than is shown. */
function grownName(store: Store, fresh: CaptureSummary[], openChanged: boolean): string | null {
  const { name, night, captures } = store.state;
  if (name === null || night === null) return null;
  const now = fresh.find((capture) => capture.name === name);
  // Far down in a long list it is not among those told.
  if (now === undefined) return openChanged ? name : null;
  if (now.state === 'unreadable') return null;
  // While a recording runs every look at the list may find it waiting: asking for the findings waits for them.
  const grown =
    now.state === 'waiting'
      ? captures.some((capture) => capture.name === name && capture.state === 'ready')
      : now.duration_s !== night.findings.trace.duration_s;
  return grown ? name : null;
}

/** @param link to the live view, which says whether anything is recorded */
export function keepList(store: Store, link: HTMLElement): void {
  const keeper = new ListKeeper(store);
  keeper.soon();
  const stream = new Stream(
    () => performance.now(),
    (event, data) => {
      if (event !== 'changed') return;
      const changed = data as ListChanged;
      sayRunning(link, changed.running);
      keeper.heard(changed);
    },
    // Whether the server is away, or the connection alone, the list tells.
    ({ state }) => {
      if (state === 'lost') keeper.soon();
    },
    () => keeper.untold(),
    true,
  );
  document.addEventListener('visibilitychange', () => {
    if (!document.hidden && stream.state.state === 'lost') keeper.soon();
  });
}
