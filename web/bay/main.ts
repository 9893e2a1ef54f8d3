// The bay's page: hears the live stream, and shows the work beside one recording, or how
// to begin it.

import { BEFORE_CLAMPING } from '../../host/say/cautions.ts';
import { AskError } from '../ask.ts';
import { cautionList } from '../cautions.ts';
import { byId } from '../dom.ts';
import { askBoards, askRecordings } from '../live/send.ts';
import { runs, withBay, withLeft, withPicture, withReadings, withStatus } from '../live/state.ts';
import type { LiveState } from '../live/state.ts';
import { Stream } from '../live/stream.ts';
import type { LiveData } from '../live/stream.ts';
import { mountLiveTheme } from '../live/theme.ts';
import { Tone } from '../live/tone.ts';
import { wakeVoice } from '../live/voice.ts';
import { BeginView } from './begin.ts';
import { put } from './order.ts';
import { WorkView } from './work.ts';

const TICK_MS = 500;

const now_ms = () => performance.now();
const tone = new Tone();
let state: LiveState = new Map();
let wanted = new URLSearchParams(location.search).get('name');
let work: WorkView | null = null;
let waiting = false;
/** Why this device is refused, in the server's words. */
let refused: string | null = null;

const begin = new BeginView(byId('begin-work'), open);
byId('cautions').append(cautionList(BEFORE_CLAMPING));
mountLiveTheme(byId('theme'), redraw);
wakeVoice();

function open(name: string): void {
  wanted = name;
  history.replaceState(null, '', `?name=${encodeURIComponent(name)}`);
  redraw();
}

function redraw(): void {
  if (waiting) return;
  waiting = true;
  requestAnimationFrame(() => {
    waiting = false;
    draw();
  });
}

/** The one that was asked for; else the newest that runs. */
function shownName(): string | null {
  if (wanted !== null && (state.get(wanted)?.bay ?? null) !== null) return wanted;
  return [...state].filter(([, { recording, bay }]) => bay !== null && runs(recording)).at(-1)?.[0] ?? null;
}

function draw(): void {
  const name = shownName();
  if (name !== (work?.name ?? null)) {
    work?.element.remove();
    work = name === null ? null : new WorkView(name, state.get(name)!.bay!, tone, now_ms);
    if (work !== null) byId('work').append(work.element);
  }
  const one = name === null ? undefined : state.get(name);
  if (one !== undefined) work!.update(one, stream.state.state === 'open');
  byId('work').hidden = one === undefined;
  byId('begin').hidden = one !== undefined && runs(one.recording) && one.missing !== 'left';
  const { state: how } = stream.state;
  byId('connection').dataset['state'] = how;
  put(
    byId('connection'),
    how === 'open'
      ? 'Connected: what you see is now.'
      : (refused ??
          (how === 'connecting'
            ? 'Connecting.'
            : 'The computer does not answer. What you see is not now. This page tries again by itself; what was on the disk is safe.')),
  );
}

function change(next: LiveState): void {
  state = next;
  redraw();
}

type Takers = { [N in keyof LiveData]: (data: LiveData[N]) => void };

const takers: Takers = {
  picture: (data) => {
    refused = null;
    change(withPicture(state, data, now_ms()));
    void refreshLists();
  },
  status: (recording) => {
    const before = state.get(recording.name);
    change(withStatus(state, recording));
    if (before === undefined || runs(before.recording) !== runs(recording)) void refreshLists();
  },
  readings: ({ name, windows }) => change(withReadings(state, name, windows, now_ms())),
  step: () => undefined,
  bay: ({ name, view }) => change(withBay(state, name, view)),
  boards: (list) => {
    begin.show(list);
    void refreshLists();
  },
  beat: () => undefined,
};

async function refreshLists(): Promise<void> {
  try {
    const [{ recordings, unfinished }, list] = await Promise.all([askRecordings(), askBoards()]);
    begin.show(list);
    const told = new Set(recordings.filter(runs).map(({ name }) => name));
    const left = unfinished.filter(({ name }) => !told.has(name));
    begin.showUnfinished(left);
    if (!list.searching && list.searched_ms !== null) change(withLeft(state, new Set(left.map(({ name }) => name))));
  } catch (error) {
    refused = error instanceof AskError && error.status === 401 ? error.message : null;
    redraw();
  }
}

const stream = new Stream(
  now_ms,
  (name, data) => takers[name](data as never),
  redraw,
  () => void refreshLists(),
);
addEventListener('keydown', (event) => {
  const at = event.target as HTMLElement;
  // Where a key has a meaning of its own it keeps it.
  const own =
    at.closest('input, select, textarea') !== null ||
    (/^(Enter| )$/.test(event.key) && at.closest('button, a, summary') !== null);
  if (event.ctrlKey || event.altKey || event.metaKey || event.repeat || own) return;
  if (work?.key(event.key) === true) event.preventDefault();
});
// A finger leaves no focus behind, or the foot switch's Enter would press that button again.
addEventListener('click', ({ detail }) => {
  if (detail === 0) return;
  // A label hands the focus on after this.
  setTimeout(() => {
    const at = document.activeElement;
    if (at instanceof HTMLElement && at.matches('button, summary, input[type="checkbox"]')) at.blur();
  });
});
setInterval(redraw, TICK_MS);
redraw();
