// The live level between two moves: waiting until it holds still, noticing a fall or a
// rise that nobody tapped, and what that means for the results before it.

import { LOOK_s, NOTICE_s, PATIENCE_s, SessionCore } from './session-core.ts';
import { smallestSought_mA } from './conclude.ts';
import { FLICKER_mA } from '../search/level.ts';
import type { Level } from '../search/level.ts';
import { testName } from '../search/planner.ts';
import type { Phase } from './session-state.ts';
import { called } from '../tree/tree.ts';

/** A fall so soon after a tap that brought nothing may belong to that tap. */
const LATE_s = 40;

export class SessionLevels extends SessionCore {
  protected lookLevel(phase: Extract<Phase, { name: 'levelling' }>): void {
    const { state } = this;
    const level = this.last(LOOK_s);
    if (level === null || level.length_s < LOOK_s || !level.still) return;
    if (phase.target_mA === null ? !this.held(phase.patience_s, level.mean_mA) : state.now_s - phase.since_s < LOOK_s)
      return;
    // A hand may have gone on meanwhile.
    if (
      phase.target_mA !== null &&
      phase.target_mA - level.mean_mA > Math.max(2 * FLICKER_mA, 0.03 * phase.target_mA) &&
      this.proposedTest() !== null
    )
      return this.noticed(phase.target_mA);
    const expected = phase.target_mA === null || this.near(level.mean_mA, phase.target_mA);
    if (!expected && !this.held(phase.patience_s, level.mean_mA)) return;
    this.rebase(level, phase.target_mA !== null);
  }

  protected rebase(level: Level, unrest = false): void {
    const { state } = this;
    const moved = state.base_mA === null ? 0 : level.mean_mA - state.base_mA;
    const first = state.base_mA === null;
    state.base_mA = level.mean_mA;
    if (first) {
      this.observeLevel('total', level);
      this.note('level', `the car draws ${level.mean_mA.toFixed(0)} mA`);
      if (level.mean_mA <= state.options.allowance_mA)
        return this.finish('nothing', `the draw is within the allowance of ${state.options.allowance_mA} mA`);
      return this.replan();
    }
    if (-moved > 2 * FLICKER_mA && this.doubtLast(-moved)) return this.replan();
    if (!this.near(moved, 0)) {
      this.note('moved', `the draw changed by ${moved.toFixed(0)} mA by itself`);
      // Nothing was taken out yet: the first level held something that has ended.
      if (
        state.out.length === 0 &&
        moved < 0 &&
        this.proposedTest() === null &&
        !state.observations.some((one) => one.how === 'refit')
      )
        state.observations = state.observations.filter((one) => one.how !== 'total' && one.how !== 'level');
    }
    this.observeLevel(state.observations.some((one) => one.how === 'total') ? 'level' : 'total', level);
    // A hand is on its way to what was asked for: the car's unrest does not change that.
    if (unrest && state.plan.length > 0) return this.propose();
    this.replan();
  }

  /**
   * The draw fell while nobody looked. After a result that was a fall, it is the rest of
   * that. After results of nothing, a hand may have come late, or the car was awake just
   * then: those results say nothing, and what they were of may be asked for again.
   * @returns whether there was such a result
   */
  protected doubtLast(fall_mA: number): boolean {
    const { state, tree } = this;
    const tests = state.observations.filter(
      (one) => (one.how === 'pull' || one.how === 'unplug') && state.out.some((gone) => gone.node === one.node),
    );
    const last = tests.at(-1);
    if (last === undefined || state.now_s - last.t_s > PATIENCE_s + 60) return false;
    if (last.amount_mA >= 2 * FLICKER_mA) {
      last.amount_mA += fall_mA;
      last.sigma_mA = Math.hypot(last.sigma_mA, FLICKER_mA / 2);
      state.out.find((one) => one.node === last.node)!.amount_mA += fall_mA;
      this.note(
        'more',
        `after ${called(tree, last.node)} the draw fell by another ${fall_mA.toFixed(0)} mA: ${last.amount_mA.toFixed(0)} mA in all`,
      );
      return true;
    }
    const doubted = tests.filter((one) => last.t_s - one.t_s < LATE_s * 2 && one.amount_mA < 2 * FLICKER_mA);
    state.observations = state.observations.filter((one) => !doubted.includes(one));
    state.unplaced_mA += fall_mA;
    state.suspects = doubted.map((one) => one.node);
    for (const one of doubted)
      state.done[testName(one.how, one.node)] = Math.max(0, (state.done[testName(one.how, one.node)] ?? 0) - 1);
    this.note(
      'doubt',
      `the draw fell by ${fall_mA.toFixed(0)} mA after ${doubted.map((one) => called(tree, one.node)).join(' and ')}: not sure that nothing changed there`,
    );
    return true;
  }

  /** Nothing was said yet: a fall is what was asked for, a rise is the car waking. */
  protected watch(): void {
    const { state } = this;
    const level = this.last(NOTICE_s);
    if (level === null || state.base_mA === null) return;
    const change = level.mean_mA - state.base_mA;
    const limit = Math.max(FLICKER_mA + 2, 0.02 * state.base_mA);
    if (change > limit + 3) {
      this.note('woke', `the car draws ${change.toFixed(0)} mA more by itself`);
      return this.level(state.base_mA, PATIENCE_s);
    }
    if (change < -limit && level.still) this.noticed(state.base_mA);
  }

  protected noticed(before_mA: number): void {
    const { state } = this;
    const fall_mA = before_mA - this.last(NOTICE_s)!.mean_mA;
    const late = this.lateTap(fall_mA);
    const proposed = this.proposedTest();
    if (fall_mA < 0.4 * smallestSought_mA(this.tree, state) || (proposed === null && late === null)) {
      this.note('fell', 'the draw fell by itself');
      return this.level(null, 15);
    }
    if (late !== null)
      return this.go({
        name: 'asking',
        question: proposed === null ? 'was-it' : 'late-or-new',
        node: late,
        other: proposed?.node ?? late,
        since_s: state.now_s,
        before_mA,
      });
    if (proposed === null) return;
    this.go({
      name: 'measuring',
      what: proposed.kind === 'pull' ? 'pulled' : 'unplugged',
      node: proposed.node,
      at_s: state.now_s - NOTICE_s,
      tapped: false,
      before_mA,
      beforeSigma_mA: FLICKER_mA / 4,
    });
  }

  /** The node whose tap, a moment ago, brought much less than this fall. */
  protected lateTap(fall_mA: number): number | null {
    const last = this.state.observations.filter((one) => one.how === 'pull' || one.how === 'unplug').at(-1);
    if (last === undefined || !this.state.out.some((one) => one.node === last.node)) return null;
    return this.state.now_s - last.t_s <= LATE_s && last.amount_mA < 0.5 * fall_mA ? last.node : null;
  }

  /** The last result came before the hand: it is measured again. */
  protected redo(node: number, before_mA: number): void {
    const { state } = this;
    const last = state.observations
      .filter((one) => one.node === node && (one.how === 'pull' || one.how === 'unplug'))
      .at(-1)!;
    state.observations = state.observations.filter((one) => one !== last);
    state.out = state.out.filter((one) => one.node !== node);
    this.note('late', `${called(this.tree, node)} came out after the tap; measured again`);
    this.go({
      name: 'measuring',
      what: last.how === 'unplug' ? 'unplugged' : 'pulled',
      node,
      at_s: state.now_s - NOTICE_s,
      tapped: true,
      before_mA,
      beforeSigma_mA: FLICKER_mA / 4,
    });
  }
}
