// Work in the bay in a variable, for tests that tell it one event after another.
import { readWork, workText } from '../../../host/bay/work/kept-state.ts';
import { viewWork } from '../../../host/bay/work/work-view.ts';
import { leftOut, reduceWork, startWork } from '../../../host/bay/work/work.ts';
import type { WorkEvent, Work } from '../../../host/bay/work/work.ts';
import type { BayAction, BayView } from '../../../host/contract/api-bay.ts';

export class HeldWork {
  private kept: number;

  constructor(public state: Work) {
    this.kept = state.session.log.length;
  }

  static start(...start: Parameters<typeof startWork>): HeldWork {
    return new HeldWork(startWork(...start));
  }

  /** As it is gone on with from the text that was kept of it. */
  static resume(text: string): HeldWork {
    const work = new HeldWork(readWork(text));
    work.take({ kind: 'resumed' });
    return work;
  }

  take(event: WorkEvent): void {
    this.state = reduceWork(this.state, event);
  }

  reading(reading: { t_s: number; mean_mA: number }, battery_V: number): void {
    this.take({ kind: 'voltage', battery_V });
    this.take({ kind: 'reading', ...reading });
  }

  act(action: BayAction, wall_ms: number): void {
    this.take({ kind: 'action', action, wall_ms });
  }

  leave(): string | null {
    const words = leftOut(this.state);
    this.take({ kind: 'left' });
    return words;
  }

  get view(): BayView {
    return viewWork(this.state);
  }

  /** Entries since the last call. */
  newEntries(): Work['session']['log'] {
    const fresh = this.state.session.log.slice(this.kept);
    this.kept += fresh.length;
    return fresh;
  }

  toJSON(): string {
    return workText(this.state);
  }
}
