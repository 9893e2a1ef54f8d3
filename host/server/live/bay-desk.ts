// Work in the bay beside one recording: fed with its readings, kept in its capture, and
// told to the live stream when it shows something new.

import type { KeptWork } from '../../bay/work/kept-work.ts';
import { BayProblem } from '../../bay/work/work.ts';
import { workView } from '../../bay/work/work-view.ts';
import type { LiveReading } from '../../recorder/live.ts';
import type { BayAction, BayView } from '../../contract/api.ts';
import { RequestProblem } from '../problem.ts';

export class BayDesk {
  private begun = false;
  private closed = false;
  /** A fault in keeping the work: it ends the recording with its words, instead of being lost. */
  private failure: Error | null = null;
  private told: string;
  private now: BayView;

  /** @param tell given each view that differs from the last */
  constructor(
    private readonly kept: KeptWork,
    private readonly tell: (view: BayView) => void,
  ) {
    this.now = workView(kept.work);
    this.told = JSON.stringify(this.now);
  }

  get view(): BayView {
    return this.now;
  }

  /** After each commit of the recorder, about twice a second. @throws Error where the work could not be kept */
  committed(): void {
    if (this.failure !== null) throw this.failure;
    if (this.closed) return;
    if (!this.begun) this.kept.begin();
    this.begun = true;
    // What the readings show of an item, and how long a wait may still take, changes without a deed.
    this.show();
  }

  take({ reading, t_s, late }: LiveReading): void {
    if (late || this.closed) return;
    try {
      if (this.kept.reading(reading, t_s)) this.show();
    } catch (error) {
      this.failure ??= error as Error;
    }
  }

  /**
   * @returns what is asked next @throws RequestProblem 409 with the words for who did it, where it makes no sense now
   */
  act(action: BayAction, wall_ms: number): BayView {
    if (!this.begun || this.closed)
      throw new RequestProblem(
        409,
        'not-recording',
        'The board is not being recorded now, so nothing can be noted; go on with the recording first.',
      );
    const asked = 'asked' in action ? action.asked : undefined;
    if (asked !== undefined && asked !== this.now.headline) return this.now;
    try {
      this.kept.act(action, wall_ms);
    } catch (error) {
      if (error instanceof BayProblem) throw new RequestProblem(409, 'not-now', sentence(error.message));
      this.failure ??= error as Error;
      throw error;
    }
    this.show();
    return this.now;
  }

  private show(): void {
    const view = workView(this.kept.work);
    const text = JSON.stringify(view);
    if (text === this.told) return;
    this.told = text;
    this.now = view;
    this.tell(view);
  }

  /** The recording is being ended. @returns what is still out, in words; null where all is back */
  leave(): string | null {
    return this.begun && !this.closed ? this.kept.leave() : null;
  }

  close(): void {
    this.closed = true;
    this.kept.close();
  }
}

const sentence = (text: string) => `${text[0]!.toUpperCase()}${text.slice(1)}${/[.?!]$/.test(text) ? '' : '.'}`;
