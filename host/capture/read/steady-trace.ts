// The trace of windows that all lie in the order of their time, which is nearly every
// night: block by block, so that only what the trace holds is kept in memory. To touch
// twelve columns of a night for the first time takes longer than all the rest; so what is
// read for its findings alone is kept in 32 bits (to a ten-millionth) but for the times.

import { newWindowColumns } from '../format/blocks.ts';
import type { WindowColumns } from '../format/blocks.ts';
import type { Layout } from './layout.ts';
import { countOf } from './stored.ts';
import type { BlockPlace, Stored } from './stored.ts';
import { estimated, gapBefore } from './timeline.ts';
import type { Gap, Samples, Trace } from '../../contract/capture.ts';
import { doubtsOf } from './window-trace.ts';

/** @returns null where windows were sent again and have to be put in their place */
export function steadyTrace(stored: Stored, layout: Layout, start_ms: number | null, singles: boolean): Trace | null {
  const laid = new LaidWindows(layout, singles ? Float32Array : Float64Array);
  const block = newWindowColumns(layout.blocks.reduce((most, { count }) => Math.max(most, count), 0));
  for (const place of layout.blocks) {
    stored.windowsOf(place, block);
    if (!laid.add(place, block)) return null;
  }
  const { t_s, dur_s, mean_mA, min_mA, max_mA } = laid;
  const gaps = estimated(mean_mA, t_s, laid.gaps, doubtsOf(stored, laid.starts, t_s));
  return { kind: 'windows', start_ms, time: { kind: 'listed', t_s }, dur_s, mean_mA, min_mA, max_mA, gaps };
}

/** Windows on the trace's axis as they come, and the end of the last one. */
class LaidWindows {
  readonly t_s: Float64Array;
  readonly dur_s: Samples;
  readonly mean_mA: Samples;
  readonly min_mA: Samples;
  readonly max_mA: Samples;
  readonly gaps: Gap[] = [];
  readonly starts: { from: number; run: number }[] = [];
  private count = 0;
  private run = NaN;
  private t_us = NaN;
  private axis_us = NaN;
  private end_s = NaN;
  private charge_nC = NaN;

  constructor(
    private readonly layout: Layout,
    Column: new (length: number) => Samples,
  ) {
    const count = countOf(layout.blocks);
    this.t_s = new Float64Array(count);
    this.dur_s = new Column(count);
    this.mean_mA = new Column(count);
    this.min_mA = new Column(count);
    this.max_mA = new Column(count);
  }

  /** @returns false where a window is not in the order of time */
  add({ run, count }: BlockPlace, block: WindowColumns): boolean {
    const { zero_s } = this.layout;
    const map = this.layout.axis.get(run)!;
    const { t_us, dur_us } = block;
    const { t_s, dur_s, count: at } = this;
    if (run !== this.run) this.starts.push({ from: at, run });
    let last_us = run === this.run ? this.t_us : NaN,
      { axis_us, end_s } = this;
    for (let i = 0; i < count; i++) {
      const now_us = t_us[i]!,
        from_us = now_us - dur_us[i]!;
      if (now_us < last_us) return false;
      // Nearly always one begins where the one before it ended.
      const start_us = from_us === last_us ? axis_us : map.at(from_us);
      const end_us = map.at(now_us);
      const start_s = start_us / 1e6,
        lasts_s = (end_us - start_us) / 1e6;
      if (!(from_us <= last_us) && at + i > 0) this.addGap(block, i, last_us, end_s, start_s, lasts_s, run);
      t_s[at + i] = start_s - zero_s;
      dur_s[at + i] = lasts_s;
      end_s = start_s + lasts_s;
      last_us = now_us;
      axis_us = end_us;
    }
    Object.assign(this, {
      run,
      count: at + count,
      t_us: last_us,
      axis_us,
      end_s,
      charge_nC: block.charge_nC[count - 1]!,
    });
    const { scale, shift_uA } = this.layout.correction.get(run)!;
    toMilliamperes(block.mean_uA, count, scale, shift_uA, this.mean_mA, at);
    toMilliamperes(block.min_uA, count, scale, shift_uA, this.min_mA, at);
    toMilliamperes(block.max_uA, count, scale, shift_uA, this.max_mA, at);
    return true;
  }

  /**
   * @param last_us end of the window before, NaN for the first of a run
   * @param end_s the same on the axis, whatever the run
   */
  private addGap(
    block: WindowColumns,
    i: number,
    last_us: number,
    end_s: number,
    start_s: number,
    lasts_s: number,
    run: number,
  ): void {
    const { zero_s, correction } = this.layout;
    const before = Number.isNaN(last_us)
      ? null
      : { t_us: last_us, charge_nC: i > 0 ? block.charge_nC[i - 1]! : this.charge_nC };
    const gap = gapBefore(block, i, before, end_s, start_s, lasts_s, correction.get(run)!);
    if (gap !== null) this.gaps.push({ ...gap, start_s: gap.start_s - zero_s, end_s: gap.end_s - zero_s });
  }
}

function toMilliamperes(
  values_uA: Float64Array,
  count: number,
  scale: number,
  shift_uA: number,
  out: Samples,
  at: number,
): void {
  for (let i = 0; i < count; i++) out[at + i] = (values_uA[i]! * scale + shift_uA) / 1000;
}
