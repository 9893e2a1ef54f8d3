// Fetches a night and shows it; fetches it anew when its file has grown, without
// taking the reader's place away.

import type { CaptureInfo } from '../host/server/api.ts';
import { askFindings, askInfo, askOverview, AskError } from './ask.ts';
import type { NightData } from './chart/data.ts';
import { sameEvent } from './chart/events.ts';
import { byId } from './dom.ts';
import { titleOf } from './shelf.ts';
import type { Store } from './store.ts';
import { followed } from './view.ts';

const WHOLE_BINS = 3000;
const ASK_AGAIN_MS = 1500;

export const wait = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));
export const wordsOf = (error: unknown) => (error instanceof Error ? error.message : String(error));

async function fetchNight(name: string): Promise<{ info: CaptureInfo; night: NightData }> {
  const [info, findings] = await Promise.all([askInfo(name), askFindings(name)]);
  const whole = await askOverview(name, 0, Math.max(info.duration_s, 1e-3), WHOLE_BINS);
  return { info, night: { start_ms: info.start_ms, duration_s: info.duration_s, findings, whole, detail: null, marks: info.marks } };
}

export async function open(store: Store, name: string): Promise<void> {
  store.set({ name, message: null });
  document.title = `${titleOf(name)} · nightdraw`;
  byId('main').setAttribute('aria-busy', 'true');
  try {
    const fetched = await fetchNight(name);
    if (store.state.name !== name) return;
    store.set({ ...fetched, window: { from_s: 0, to_s: fetched.night.duration_s }, selected: null, cursor_s: null, message: null });
  } catch (error) {
    if (store.state.name !== name) return;
    store.set({ message: wordsOf(error), night: null, info: null });
    if (error instanceof AskError && error.status === null) {
      await wait(ASK_AGAIN_MS);
      if (store.state.name === name) void open(store, name);
    }
  } finally {
    byId('main').removeAttribute('aria-busy');
  }
}

/** The window stays, or keeps to the end that it was at; the selected event stays selected. */
export async function refresh(store: Store, name: string): Promise<void> {
  const fetched = await fetchNight(name);
  const { night, window, selected } = store.state;
  if (store.state.name !== name || night === null) return;
  const { night: grown } = fetched;
  if (grown.findings.trace.duration_s === night.findings.trace.duration_s) return;
  store.set({
    info: fetched.info,
    // Finer readings of before are still true where they were asked for.
    night: { ...grown, detail: night.detail },
    window: followed(window, night.duration_s, grown.duration_s),
    selected: selected === null ? null : sameEvent(selected, night.findings, grown.findings),
  });
}
