// What every page that follows recordings does alike: hears the live stream, keeps the state
// that comes of it, asks for what the stream does not tell, says how the connection is, and
// draws what changed before the next picture is shown.

import { BEFORE_CLAMPING } from '../../host/say/cautions.ts';
import type { BoardList, Unfinished } from '../../host/contract/api.ts';
import { AskError } from '../ask.ts';
import { cautionList } from '../cautions.ts';
import { byId } from '../dom.ts';
import { askBoards, askRecordings } from './send.ts';
import { runs, withBay, withLeft, withPicture, withReadings, withStatus, withStep } from './state.ts';
import type { LiveState } from './state.ts';
import { Stream } from './stream.ts';
import type { LiveData } from './stream.ts';
import { elapsedWords } from './words.ts';

/** What counts up while nothing comes is drawn again so often. */
const TICK_MS = 500;
/** The server goes on by itself with what was written this lately (recordings.ts). */
const GONE_ON_MS = 15 * 60_000;
/** A short interruption is nobody's business. */
const LOST_TOLD_MS = 1500;

export const now_ms = (): number => performance.now();

/** The page's own part. Nothing is called before `start`. */
export interface Shown {
  draw(): void;
  /** Where boards that were found and captures to go on with are listed. */
  lists: { show(list: BoardList): void; showUnfinished(left: Unfinished[]): void };
  /** A whole picture came: the page was opened, or the connection is back. */
  pictured?(): void;
  stepped?(step: LiveData['step']): void;
}

type Hearers = { [N in keyof LiveData]: (data: LiveData[N]) => void };

export class Follow {
  state: LiveState = new Map();
  private shown!: Shown;
  private stream!: Stream;
  private waiting = false;
  /** Why this device is refused, in the server's words. */
  private refused: string | null = null;

  get connected(): boolean {
    return this.stream.state.state === 'open';
  }

  start(shown: Shown): void {
    this.shown = shown;
    const refresh = () => void this.refreshLists();
    this.stream = new Stream(now_ms, (name, data) => this.hearers[name](data as never), this.redraw, refresh);
    byId('cautions').append(cautionList(BEFORE_CLAMPING));
    setInterval(this.redraw, TICK_MS);
    document.addEventListener('visibilitychange', this.redraw);
    this.redraw();
  }

  /** Once for all that changes until then. */
  readonly redraw = (): void => {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.shown.draw();
      this.sayConnection();
    });
  };

  change(next: LiveState): void {
    this.state = next;
    this.redraw();
  }

  private readonly hearers: Hearers = {
    picture: (data) => {
      this.refused = null;
      this.change(withPicture(this.state, data, now_ms()));
      void this.refreshLists();
      this.shown.pictured?.();
    },
    status: (recording) => {
      const before = this.state.get(recording.name);
      this.change(withStatus(this.state, recording));
      if (before === undefined || before.missing !== 'no' || runs(before.recording) !== runs(recording))
        void this.refreshLists();
    },
    readings: ({ name, windows }) => this.change(withReadings(this.state, name, windows, now_ms())),
    step: (told) => {
      this.change(withStep(this.state, told.name, told.step));
      this.shown.stepped?.(told);
    },
    bay: ({ name, view }) => this.change(withBay(this.state, name, view)),
    boards: (list) => {
      this.shown.lists.show(list);
      // A search that ended may be the one that an interrupted recording waited for.
      void this.refreshLists();
    },
    // The pages of the bay show no list of captures, and are told of none.
    changed: () => undefined,
    beat: () => undefined,
  };

  /** What the stream does not tell: captures that can be gone on with, and which boards are known. */
  private async refreshLists(): Promise<void> {
    try {
      const [{ recordings, unfinished }, list] = await Promise.all([askRecordings(), askBoards()]);
      const told = new Set(recordings.filter(runs).map(({ name }) => name));
      const left = unfinished.filter(({ name }) => !told.has(name));
      this.shown.lists.show(list);
      this.shown.lists.showUnfinished(left);
      const looked = !list.searching && list.searched_ms !== null;
      const gone = left.filter(({ written_ms }) => looked || Date.now() - written_ms > GONE_ON_MS);
      this.change(withLeft(this.state, new Set(gone.map(({ name }) => name))));
    } catch (error) {
      this.refused = error instanceof AskError && error.status === 401 ? error.message : null;
      this.redraw();
    }
  }

  private sayConnection(): void {
    const { state, since_ms } = this.stream.state;
    const place = byId('connection');
    place.dataset['state'] = state;
    const words =
      state === 'open' ? 'Connected: readings are live.' : (this.refused ?? lostWords(state, now_ms() - since_ms));
    if (place.textContent !== words) place.textContent = words;
  }
}

function lostWords(state: 'connecting' | 'lost', lost_ms: number): string {
  if (state === 'connecting' && lost_ms < LOST_TOLD_MS) return 'Connecting.';
  // In tens of seconds: a screen reader reads each change aloud.
  const long = lost_ms < 10_000 ? '' : ` for ${elapsedWords(Math.floor(lost_ms / 10_000) * 10)}`;
  return `The computer does not answer${long}. Readings are out of date. This page tries again by itself; what was on the disk is safe.`;
}
