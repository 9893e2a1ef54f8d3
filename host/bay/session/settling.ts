// A fuse or a part goes in again: under the bridge, then the wait until the car draws
// what it did before, and what the way back says about what was taken out.

import { LOOK_s, NOTICE_s, PATIENCE_s } from './session-core.ts';
import { SessionMeasure } from './session-measure.ts';
import { FLICKER_mA } from '../search/level.ts';
import type { Level } from '../search/level.ts';
import type { Phase } from './session-state.ts';
import { called } from '../tree/tree.ts';

/** The longest that a car takes to sleep again (common practice: 15 to 30 min). */
export const SETTLE_s_MAX = 1800;
/** A refit whose draw stays away this long is asked about. */
const BACK_s = 20;

export class Settling extends SessionMeasure {
  /**
   * The hand may be quicker than the tap: a rise shows a fuse that went in without the bridge, or the bridge coming
   * off.
   */
  protected watchRefit(phase: Extract<Phase, { name: 'bridge-on' | 'refitting' | 'bridge-off' }>): void {
    const { state } = this;
    const level = this.last(NOTICE_s);
    const amount = state.out.find((one) => one.node === phase.node)?.amount_mA ?? 0;
    if (level === null || state.base_mA === null || level.mean_mA < state.base_mA + Math.max(15, 0.5 * amount)) return;
    this.note(
      'no-bridge',
      `${called(this.tree, phase.node)} seems to be in again without the bridge; bridge first next time`,
    );
    this.startSettling(phase.node);
  }

  protected startSettling(node: number): void {
    const amount = this.state.out.find((one) => one.node === node)?.amount_mA ?? 0;
    this.go({ name: 'settling', node, since_s: this.state.now_s, target_mA: (this.state.base_mA ?? 0) + amount });
  }

  protected settle(phase: Extract<Phase, { name: 'settling' }>): void {
    const { state, tree } = this;
    const waited_s = state.now_s - phase.since_s;
    const level = this.last(LOOK_s);
    if (level === null || waited_s < LOOK_s || level.length_s < LOOK_s || !level.still) return;
    const amount = state.out.find((one) => one.node === phase.node)?.amount_mA ?? 0;
    if (this.near(level.mean_mA, phase.target_mA)) return this.settled(phase, level, waited_s);
    if (state.unplaced_mA > 0 && this.near(level.mean_mA, phase.target_mA + state.unplaced_mA)) {
      state.unplaced_mA = 0;
      state.suspects = [];
      return this.settled(phase, level, waited_s);
    }
    const away = amount > 2 * FLICKER_mA && level.mean_mA < phase.target_mA - 0.6 * amount;
    if (away && waited_s > BACK_s)
      return this.go({
        name: 'asking',
        question: 'back-in',
        node: phase.node,
        other: null,
        since_s: state.now_s,
        before_mA: phase.target_mA,
      });
    const lower = level.mean_mA < phase.target_mA;
    if (waited_s > SETTLE_s_MAX || this.held(lower ? 60 : 4 * PATIENCE_s, level.mean_mA)) {
      this.note(
        'settled-elsewhere',
        `after refitting ${called(tree, phase.node)} the car settled at ${level.mean_mA.toFixed(0)} mA, not at ${phase.target_mA.toFixed(0)}`,
      );
      this.settled(phase, level, waited_s);
    }
  }

  protected settled(phase: Extract<Phase, { name: 'settling' }>, level: Level, waited_s: number): void {
    const { state } = this;
    state.settled_s.push(waited_s);
    state.out = state.out.filter((one) => one.node !== phase.node);
    const before_mA = state.base_mA ?? 0;
    const rise_mA = level.mean_mA - before_mA;
    if (state.repeat?.node === phase.node) this.cameBack(phase.node, rise_mA);
    state.base_mA = phase.target_mA;
    this.note('settled', `${called(this.tree, phase.node)} is in again; settled after ${waited_s.toFixed(0)} s`);
    state.observations.push({
      node: phase.node,
      without: this.missing(phase.node),
      amount_mA: rise_mA,
      sigma_mA: Math.hypot(level.sigma_mA, FLICKER_mA / 2),
      how: 'refit',
      t_s: state.now_s,
    });
    this.rebase(level);
  }

  /** A draw that goes with a part and comes back with it is that part's. */
  protected cameBack(node: number, rise_mA: number): void {
    const { state } = this;
    const fall = state.observations.find((one) => one.node === node && one.doubtful === true);
    if (fall === undefined || Math.abs(rise_mA - fall.amount_mA) > Math.max(FLICKER_mA, 0.25 * fall.amount_mA)) return;
    fall.doubtful = false;
    state.repeat = null;
  }

  protected refitted(node: number): void {
    const { state } = this;
    const gone = state.out.find((one) => one.node === node);
    if (gone === undefined) return this.note('in', `${called(this.tree, node)} was not out`);
    if (state.phase.name === 'finished' || state.base_mA === null) {
      state.out = state.out.filter((one) => one !== gone);
      if (state.base_mA !== null) state.base_mA += Math.max(0, gone.amount_mA);
      return this.note('refitted', `${called(this.tree, node)} is back in`);
    }
    if (state.bridge === 'on') this.go({ name: 'bridge-off', node, since_s: state.now_s });
    else this.startSettling(node);
  }
}
