// Fetches a night and shows it, the picture before its meaning; fetches it anew when
// its file has grown or another judgement is asked for, without taking the reader's
// place away.

import type { Findings } from '../host/contract/findings.ts';
import type { NightInfo } from '../host/contract/api.ts';
import { askFindings, askInfo, askOverview, AskError, wordsOf } from './ask.ts';
import type { Asked } from './ask.ts';
import type { NightData } from './chart/data.ts';
import { sameEvent } from './chart/events.ts';
import { byId } from './dom.ts';
import { titleOf } from './shelf.ts';
import type { Store } from './store.ts';
import { followed } from './view.ts';

const WHOLE_BINS = 3000;
const ASK_AGAIN_MS = 1500;
/**
 * Until so long after both were asked for the picture waits for its meaning: nothing flickers. A night that takes
 * longer to draw waits no more.
 */
const TOGETHER_MS = 300;

export const wait = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

/** Stands in until the analysis is through: it claims nothing, not even an allowance. */
function nothingFound(info: NightInfo): Findings {
  return {
    trace: { start: null, duration_s: info.duration_s, samples: info.samples, mean_mA: NaN, gaps: [] },
    allowance_mA: NaN,
    verdict: { code: 'short', sentence: 'The night is drawn below; what it means is still being worked out.' },
    asleep: null,
    steps: [],
    wakeups: [],
    families: [],
    dips: [],
    levels: [],
    battery: {},
    charge: { total_mAh: NaN, going_to_sleep_mAh: NaN, asleep_mAh: NaN, wakeups_mAh: NaN, gaps_mAh: null },
  };
}

async function fetchPicture(name: string): Promise<{ info: NightInfo; night: Omit<NightData, 'findings'> }> {
  const info = await askInfo(name);
  const whole = await askOverview(name, 0, Math.max(info.duration_s, 1e-3), WHOLE_BINS);
  return {
    info,
    night: { start_ms: info.start_ms, duration_s: info.duration_s, whole, detail: null, marks: info.marks },
  };
}

export async function open(store: Store, name: string): Promise<void> {
  store.set({ name, message: null, asked: {} });
  document.title = `${titleOf(name)} · nightdraw`;
  byId('main').setAttribute('aria-busy', 'true');
  try {
    const patience = wait(TOGETHER_MS).then(() => null);
    const picture = fetchPicture(name);
    const meaning = askFindings(name);
    // A refusal is heard where it is waited for, below.
    meaning.catch(() => undefined);
    const { info, night } = await picture;
    const soon = await Promise.race([meaning, patience]);
    if (store.state.name !== name) return;
    const fresh = {
      info,
      window: { from_s: 0, to_s: night.duration_s },
      selected: null,
      cursor_s: null,
      message: null,
    };
    store.set({ ...fresh, night: { ...night, findings: soon ?? nothingFound(info) }, pending: soon === null });
    if (soon !== null) return;
    const findings = await meaning;
    const now = store.state.night;
    if (store.state.name === name && now !== null) store.set({ night: { ...now, findings }, pending: false });
  } catch (error) {
    if (store.state.name !== name) return;
    store.set({ message: wordsOf(error), night: null, info: null, pending: false });
    if (error instanceof AskError && error.status === null) {
      await wait(ASK_AGAIN_MS);
      if (store.state.name === name) void open(store, name);
    }
  } finally {
    if (store.state.name === name) byId('main').removeAttribute('aria-busy');
  }
}

/** The window stays, or keeps to the end that it was at; the selected event stays selected. */
export async function refresh(store: Store, name: string): Promise<void> {
  const { asked } = store.state;
  const [picture, findings] = await Promise.all([fetchPicture(name), askFindings(name, asked)]);
  const { night, window, selected } = store.state;
  if (store.state.name !== name || night === null || store.state.asked !== asked) return;
  if (findings.trace.duration_s === night.findings.trace.duration_s && !store.state.pending) return;
  store.set({
    info: picture.info,
    // Finer readings of before are still true where they were asked for.
    night: { ...picture.night, findings, detail: night.detail },
    pending: false,
    window: followed(window, night.duration_s, picture.night.duration_s),
    selected: selected === null ? null : sameEvent(selected, night.findings, findings),
  });
}

/**
 * Judges the open night by other settings.
 * @throws AskError with the server's sentence where it refuses one
 */
export async function judge(store: Store, asked: Asked): Promise<void> {
  const { name } = store.state;
  if (name === null) return;
  const findings = await askFindings(name, asked);
  const { night, selected } = store.state;
  if (store.state.name !== name || night === null) return;
  store.set({
    asked,
    pending: false,
    night: { ...night, findings },
    selected: selected === null ? null : sameEvent(selected, night.findings, findings),
  });
}

/** Takes in what was changed in the capture by hand: its marks and its job. */
export async function reread(store: Store, name: string): Promise<void> {
  const info = await askInfo(name);
  const { night } = store.state;
  if (store.state.name === name && night !== null) store.set({ info, night: { ...night, marks: info.marks } });
}
