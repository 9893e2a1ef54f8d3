// Calls out a lasting change of the current as it happens: for somebody who pulls fuses
// and looks elsewhere. The analysis of the whole night says it better, but later.

import type { LiveStep } from '../../contract/api.ts';

/** Smallest change that is called out: the analysis' own smallest step (`--step`). */
const LEAST_MA = 5;
/** So many times the noise of a window a change has to be. */
const NOISES = 6;
/** A change is called out when it has held this long: a pulse is over by then, and nobody waits for it. */
const HELD_S = 1;
/** What the current was before is its mean over so long at most, so that a slow drift is no step. */
const LEVEL_S = 20;
/** Before the first second there is no level to change from. */
const SETTLE_S = 1;
/**
 * A recording may begin in the middle of a change: the first second begins anew with it, but not for ever where it only
 * blinks.
 */
const SETTLE_MOST_S = 5;
/** One window adds to the noise as if it lay so many times the noise off: a change is no noise. */
const NOISE_CLIP = 3;
/** Noise that no board is below, so that a silent beginning can grow out of 0. */
const LEAST_NOISE_MA = 0.1;

export class StepWatch {
  private level_mA: number | null = null;
  private spread_mA = 0;
  /** Seconds that the level stands for. */
  private weight_s = 0;
  /** Since the first window. */
  private age_s = 0;
  /** Windows that lie apart from the level, in a row. */
  private apart: { t_s: number; dur_s: number; mean_mA: number }[] = [];

  /**
   * @param t_s end of the window on the trace
   * @returns the step that is sure now, null for none
   */
  take(t_s: number, dur_s: number, mean_mA: number): LiveStep | null {
    if (this.level_mA === null) this.level_mA = mean_mA;
    const off_mA = mean_mA - this.level_mA;
    const limit_mA = Math.max(LEAST_MA, NOISES * this.spread_mA);
    this.age_s += dur_s;
    if (this.weight_s < SETTLE_S && this.age_s < SETTLE_MOST_S && Math.abs(off_mA) >= limit_mA) {
      this.level_mA = mean_mA;
      this.weight_s = 0;
      return null;
    }
    if (this.weight_s < SETTLE_S || Math.abs(off_mA) < limit_mA) {
      this.apart = [];
      this.follow(dur_s, off_mA);
      return null;
    }
    // What jumps over the level to its other side is no new one.
    if (this.apart.length > 0 && Math.sign(this.apart[0]!.mean_mA - this.level_mA) !== Math.sign(off_mA))
      this.apart = [];
    this.apart.push({ t_s, dur_s, mean_mA });
    const first = this.apart[0]!;
    const begin_s = first.t_s - first.dur_s;
    if (t_s - begin_s < HELD_S) return null;
    return this.settle(begin_s);
  }

  private follow(dur_s: number, off_mA: number): void {
    this.weight_s = Math.min(LEVEL_S, this.weight_s + dur_s);
    const share = Math.min(1, dur_s / this.weight_s);
    this.level_mA! += share * off_mA;
    const noise_mA =
      this.weight_s < SETTLE_S
        ? Math.abs(off_mA)
        : Math.min(Math.abs(off_mA), NOISE_CLIP * Math.max(this.spread_mA, LEAST_NOISE_MA));
    this.spread_mA += share * (noise_mA - this.spread_mA);
  }

  private settle(t_s: number): LiveStep {
    // The later half: an inrush at the start says nothing of what is drawn from now on.
    const later = this.apart
      .slice(this.apart.length >> 1)
      .map(({ mean_mA }) => mean_mA)
      .sort((a, b) => a - b);
    const step = { t_s, from_mA: this.level_mA!, to_mA: later[later.length >> 1]! };
    this.level_mA = step.to_mA;
    this.weight_s = HELD_S;
    this.apart = [];
    return step;
  }
}
