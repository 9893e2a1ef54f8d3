// The live page: hears the live stream, keeps one panel for each recording, and draws
// what changed before the next picture is shown.

import { BEFORE_CLAMPING } from '../../host/say/cautions.ts';
import { AskError } from '../ask.ts';
import { cautionList } from '../cautions.ts';
import { byId, html } from '../dom.ts';
import { BoardsView } from './boards.ts';
import { CallOut } from './call-out.ts';
import { choiceControls, FIRST_CHOICE } from './choices.ts';
import { mountLan } from './lan.ts';
import { Panel } from './panel.ts';
import type { Scene } from './panel.ts';
import { askBoards, askRecordings } from './send.ts';
import { runs, withBay, without, withLeft, withPicture, withReadings, withStatus, withStep } from './state.ts';
import type { LiveState } from './state.ts';
import { Stream } from './stream.ts';
import type { Connection, LiveData } from './stream.ts';
import { mountLiveTheme } from './theme.ts';
import { Tone } from './tone.ts';
import { elapsedWords } from './words.ts';

/** What counts up while nothing comes is drawn again so often. */
const TICK_MS = 500;
/** The server goes on by itself with what was written this lately (recordings.ts). */
const GONE_ON_MS = 15 * 60_000;
/** A short interruption is nobody's business. */
const LOST_TOLD_MS = 1500;

const now_ms = () => performance.now();
const tone = new Tone();
const aloud = { tone, callOut: new CallOut(tone) };
const panels = new Map<string, Panel>();
const boards = new BoardsView(byId('boards'));
const theme = mountLiveTheme(byId('theme'), () => redraw());
let state: LiveState = new Map();
let choice = FIRST_CHOICE;
/** Why this device is refused, in the server's words. */
let refused: string | null = null;
let waiting = false;

function redraw(): void {
  if (waiting) return;
  waiting = true;
  requestAnimationFrame(() => {
    waiting = false;
    draw();
  });
}

function draw(): void {
  const scene: Scene = { connected: stream.state.state === 'open', now_ms: now_ms(), dark: theme.state.dark, choice };
  for (const [name, panel] of panels) {
    if (state.has(name)) continue;
    panel.element.remove();
    panels.delete(name);
  }
  for (const [name, one] of state) {
    let panel = panels.get(name);
    if (panel === undefined) {
      panel = new Panel(one, aloud, now_ms, redraw, () => change(without(state, name)));
      panels.set(name, panel);
      // What runs stands before what is over.
      byId('panels').insertBefore(
        panel.element,
        runs(one.recording) ? byId('panels').querySelector('[data-doing="ended"], [data-doing="failed"]') : null,
      );
    }
    panel.update(one, scene);
    if (tone.follows === name) tone.take(panel.current(scene));
  }
  byId('none').hidden = state.size > 0;
  byId('choices').hidden = state.size === 0;
  byId('panels').classList.toggle('several', state.size > 1);
  sayConnection(stream.state);
}

function sayConnection({ state: how, since_ms }: Connection): void {
  const place = byId('connection');
  const lost_ms = now_ms() - since_ms;
  place.dataset['state'] = how;
  const words =
    how === 'open'
      ? 'Connected: what you see is now.'
      : refused !== null
        ? refused
        : how === 'connecting' && lost_ms < LOST_TOLD_MS
          ? 'Connecting.'
          : // In tens of seconds: a screen reader reads each change aloud.
            `The computer does not answer${lost_ms < 10_000 ? '' : ` for ${elapsedWords(Math.floor(lost_ms / 10_000) * 10)}`}. What you see is not now. This page tries again by itself; what was on the disk is safe.`;
  if (place.textContent !== words) place.textContent = words;
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
    for (const panel of panels.values()) void panel.marks.load();
  },
  status: (recording) => {
    const before = state.get(recording.name);
    change(withStatus(state, recording));
    if (before === undefined || before.missing !== 'no' || runs(before.recording) !== runs(recording))
      void refreshLists();
  },
  readings: ({ name, windows }) => change(withReadings(state, name, windows, now_ms())),
  step: ({ name, step }) => {
    change(withStep(state, name, step));
    panels.get(name)?.step(step);
    const several = [...state.values()].filter(({ recording }) => runs(recording)).length > 1;
    aloud.callOut.step(
      name,
      step,
      several ? `Board ${state.get(name)?.recording.board.number?.slice(-2) ?? ''}` : null,
    );
  },
  bay: ({ name, view }) => change(withBay(state, name, view)),
  boards: (list) => {
    boards.show(list);
    // A search that ended may be the one that an interrupted recording waited for.
    void refreshLists();
  },
  beat: () => undefined,
};

/** What the stream does not tell: captures that can be gone on with, and which boards are known. */
async function refreshLists(): Promise<void> {
  try {
    const [{ recordings, unfinished }, list] = await Promise.all([askRecordings(), askBoards()]);
    boards.show(list);
    const told = new Set(recordings.filter(runs).map(({ name }) => name));
    const left = unfinished.filter(({ name }) => !told.has(name));
    boards.showUnfinished(left);
    const looked = !list.searching && list.searched_ms !== null;
    change(
      withLeft(
        state,
        new Set(
          left.filter(({ written_ms }) => looked || Date.now() - written_ms > GONE_ON_MS).map(({ name }) => name),
        ),
      ),
    );
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
byId('choices').append(
  choiceControls((next) => {
    choice = next;
    redraw();
  }),
);
byId('cautions').append(cautionList(BEFORE_CLAMPING));
mountLan(byId('lan') as HTMLDetailsElement);
byId('none').append(html('span', {}, [' A board that is clamped on can be found and recorded below.']));
setInterval(redraw, TICK_MS);
document.addEventListener('visibilitychange', redraw);
redraw();
