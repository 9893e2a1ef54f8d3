// Work in the bay that is kept in its capture as it goes: each change is on the disk
// before it is shown.

import { existsSync } from 'node:fs';
import { BayLog, readBay } from '../../capture/store/bay-log.ts';
import type { Reading } from '../../contract/capture.ts';
import type { SessionOptions } from '../session/session-state.ts';
import { BayWork } from './work.ts';
import type { BayAction } from '../../contract/api-bay.ts';

export interface WorkStart {
  treeText: string;
  options: Partial<SessionOptions>;
}

export class KeptWork {
  private log: BayLog | null = null;
  private battery_V: number | null = null;

  private constructor(
    readonly work: BayWork,
    readonly resumed: boolean,
    private readonly path: string,
  ) {}

  /**
   * @param path the capture; it need not be there yet
   * @param start null: goes on with what the capture holds
   * @throws Error in one sentence: a mistake in the tree, nothing to go on with, or another tree than before
   */
  static open(path: string, start: WorkStart | null): KeptWork {
    const kept = existsSync(path) ? readBay(path) : null;
    if (kept === null) {
      if (start === null) throw new Error('there is no work in the bay to go on with; give the feed tree to begin');
      return new KeptWork(BayWork.start(start.treeText, start.options), false, path);
    }
    const work = BayWork.resume(kept.state);
    if (start !== null && start.treeText !== work.session.state.treeText)
      throw new Error(
        'the capture holds work in the bay with another feed tree; leave the tree out to go on with it, or begin another capture',
      );
    return new KeptWork(work, true, path);
  }

  /** To be called once the capture is there. */
  begin(): void {
    this.log ??= new BayLog(this.path);
    this.keep();
  }

  private keep(): void {
    this.log?.append(this.work.newEntries(), this.work.toJSON());
  }

  /** @param t_s end of the reading on the trace @returns whether the screen should show something new */
  reading(reading: Reading, t_s: number | null): boolean {
    if (reading.kind === 'voltage') this.battery_V = reading.bus_mV / 1000;
    if (reading.kind !== 'window' || t_s === null) return false;
    const mean_mA = reading.mean_uA / 1000;
    const changed = this.work.reading(
      { t_s, mean_mA, min_mA: reading.min_uA / 1000, max_mA: reading.max_uA / 1000 },
      this.battery_V,
    );
    if (changed) this.keep();
    return changed;
  }

  /** @throws BayProblem in words where it makes no sense now; nothing is changed then */
  act(action: BayAction, wall_ms: number): void {
    this.work.act(action, wall_ms);
    this.keep();
  }

  /** @returns what is still out, in words; null where all is back */
  leave(): string | null {
    const text = this.work.leave();
    this.keep();
    return text;
  }

  close(): void {
    this.log?.close();
    this.log = null;
  }
}
