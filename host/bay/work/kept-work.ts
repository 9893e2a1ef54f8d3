// Work in the bay that is kept in its capture as it goes: each change is on the disk
// before it is shown. The terminal and the server both hold their work so.

import { existsSync } from 'node:fs';
import { BayLog, readBay } from '../../capture/store/bay-log.ts';
import type { BayAction, BayView, FeedTreeAnswer } from '../../contract/api-bay.ts';
import type { Reading } from '../../contract/capture.ts';
import { treeOf } from '../session/session-state.ts';
import type { SessionOptions } from '../session/session-state.ts';
import { fuseResistance } from '../tree/fuses.ts';
import { readWork, workText } from './kept-state.ts';
import { viewWork } from './work-view.ts';
import { BayProblem, isNews, leftOut, reduceWork, startWork } from './work.ts';
import type { WorkEvent, Work } from './work.ts';

export interface WorkStart {
  treeText: string;
  options: Partial<SessionOptions>;
}

export class KeptWork {
  private log: BayLog | null = null;
  private closed = false;
  /** How many entries of the session's log the capture holds. */
  private entries: number;
  /** Trace time of the first reading. */
  private from_s: number | null = null;
  private failure: Error | null = null;
  private now: BayView;
  private told: string;
  private tell: (view: BayView) => void = () => undefined;

  private constructor(
    private readonly path: string,
    private work: Work,
    readonly resumed: boolean,
  ) {
    this.entries = work.session.log.length;
    if (resumed) this.work = reduceWork(work, { kind: 'resumed' });
    this.now = viewWork(this.work);
    this.told = JSON.stringify(this.now);
  }

  /**
   * @param path the capture; it need not be there yet
   * @param start null: goes on with what the capture holds
   * @throws Error in one sentence: a mistake in the tree, nothing to go on with, or another tree than before
   */
  static open(path: string, start: WorkStart | null): KeptWork {
    const kept = existsSync(path) ? readBay(path) : null;
    if (kept === null) {
      if (start === null) throw new Error('there is no work in the bay to go on with; give the feed tree to begin');
      return new KeptWork(path, startWork(start.treeText, start.options), false);
    }
    const work = readWork(kept.state);
    if (start !== null && start.treeText !== work.session.list.treeText)
      throw new Error(
        'the capture holds work in the bay with another feed tree; leave the tree out to go on with it, or begin another capture',
      );
    return new KeptWork(path, work, true);
  }

  /** What is to be shown now. */
  get view(): BayView {
    return this.now;
  }

  /** What `view.feed` tells of. */
  get tree(): FeedTreeAnswer {
    const { nodes } = treeOf(this.work.session);
    return {
      nodes: nodes.map(({ name, kind, box, rating_A, parent, type }) => ({
        ...{ name, kind, box, rating_A, parent },
        readable: fuseResistance(type, rating_A) !== null,
      })),
    };
  }

  /** Whether what is done now is kept: from the first commit of the recorder on, until it is closed. */
  get isOpen(): boolean {
    return this.log !== null && !this.closed;
  }

  /** @param tell given each view that differs from the last */
  onView(tell: (view: BayView) => void): void {
    this.tell = tell;
  }

  /**
   * To be called after each commit of the recorder, about twice a second: with the first one the capture is there.
   * @throws Error where the work could not be kept; it ends the recording with its words, instead of being lost
   */
  committed(): void {
    if (this.failure !== null) throw this.failure;
    if (this.closed) return;
    if (this.log === null) {
      this.log = new BayLog(this.path);
      this.keep();
    }
    // What the readings show of an item, and how long a wait may still take, changes without a deed.
    this.show();
  }

  /**
   * A reading of the live feed. A fault in keeping what it came to is told at the next commit.
   * @param live `t_s`: its end on the trace
   */
  hear({ reading, t_s, late }: { reading: Reading; t_s: number | null; late: boolean }): void {
    if (late || this.closed) return;
    try {
      if (reading.kind === 'voltage') this.reduce({ kind: 'voltage', battery_V: reading.bus_mV / 1000 });
      if (reading.kind !== 'window' || t_s === null) return;
      this.from_s ??= t_s;
      this.reduce({ kind: 'reading', t_s, mean_mA: reading.mean_uA / 1000 });
    } catch (error) {
      this.failure ??= error as Error;
    }
  }

  /**
   * Something done or read at the car.
   * @param wall_ms milliseconds since 1970 UTC
   * @throws BayProblem in words where it makes no sense now; nothing is changed then
   */
  act(action: BayAction, wall_ms: number): void {
    try {
      this.reduce({ kind: 'action', action, wall_ms });
    } catch (error) {
      if (!(error instanceof BayProblem)) this.failure ??= error as Error;
      throw error;
    }
  }

  /** The technician leaves. @returns what is still out, in words; null where all is back, or nothing is kept */
  leave(): string | null {
    if (!this.isOpen) return null;
    const words = leftOut(this.work);
    this.reduce({ kind: 'left' });
    return words;
  }

  close(): void {
    this.closed = true;
    this.log?.close();
  }

  private reduce(event: WorkEvent): void {
    const before = this.work;
    this.work = reduceWork(before, event);
    if (!isNews(before, this.work)) return;
    this.keep();
    this.show();
  }

  private keep(): void {
    if (this.log === null) return;
    const { log } = this.work.session;
    // The session's clock begins anew after a stop; the trace goes on.
    const fresh = log.slice(this.entries).map((one) => ({ ...one, t_s: Math.max(one.t_s, this.from_s ?? 0) }));
    this.log.append(fresh, workText(this.work));
    this.entries = log.length;
  }

  private show(): void {
    const view = viewWork(this.work);
    const text = JSON.stringify(view);
    if (text === this.told) return;
    this.told = text;
    this.now = view;
    this.tell(view);
  }
}
