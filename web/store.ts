// What the page knows and shows: one object, replaced on every change; listeners
// are told once per frame.

import type { NightInfo, CaptureSummary } from '../host/contract/api.ts';
import type { Asked } from './ask.ts';
import type { NightData } from './chart/data.ts';
import type { CurrentScaleKind } from './chart/scales.ts';
import type { Window } from './view.ts';

export interface State {
  /** The newest. */
  captures: CaptureSummary[];
  /** Captures in the folder. */
  total: number;
  /** The capture that is shown or on its way. */
  name: string | null;
  info: NightInfo | null;
  night: NightData | null;
  /** The picture is there, what it means is not yet. */
  pending: boolean;
  /** What the reader wants judged otherwise. */
  asked: Asked;
  window: Window;
  scale: CurrentScaleKind;
  selected: string | null;
  /** The instant read out. */
  cursor_s: number | null;
  dark: boolean;
  /** Trouble, in one sentence. */
  message: string | null;
}

export type Listener = (state: State, before: State) => void;

export class Store {
  private current: State;
  private told: State;
  private readonly listeners: Listener[] = [];
  private readonly nextFrame: (work: () => void) => void;
  private waiting = false;

  /** @param nextFrame calls its argument before the next picture is shown */
  constructor(initial: State, nextFrame: (work: () => void) => void) {
    this.current = initial;
    this.told = initial;
    this.nextFrame = nextFrame;
  }

  get state(): State {
    return this.current;
  }

  set(part: Partial<State>): void {
    this.current = { ...this.current, ...part };
    if (this.waiting) return;
    this.waiting = true;
    this.nextFrame(() => this.tell());
  }

  /** Tells listeners now; printing cannot wait for a frame. */
  tell(): void {
    this.waiting = false;
    const before = this.told;
    this.told = this.current;
    if (before === this.current) return;
    for (const listener of this.listeners) listener(this.told, before);
  }

  listen(listener: Listener): void {
    this.listeners.push(listener);
  }
}
