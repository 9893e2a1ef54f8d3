// What every part of a pull session leans on: its state, the level now, its notes, and
// the step from a new result to the next proposal.

import { believe } from '../search/belief.ts';
import { careOf, restrict, unknownParts } from '../tree/care.ts';
import { conclude } from './conclude.ts';
import { FLICKER_mA, levelBetween } from '../search/level.ts';
import type { Level } from '../search/level.ts';
import { testName } from '../search/planner.ts';
import type { Phase, SessionState } from './session-state.ts';
import { readTree } from '../tree/tree-build.ts';
import { called, isBehind } from '../tree/tree.ts';
import type { FeedTree } from '../tree/tree.ts';

/** Another level than expected is believed after it held still for this long. */
export const PATIENCE_s = 240;
/** A level is measured over this. */
export const LOOK_s = 8;
/** The first level of all decides what is looked for: it is watched longer. */
export const FIRST_LOOK_s = 20;
/** A fall or a rise that held for this long is one. */
export const NOTICE_s = 3;
/** Before it is called undecided. */
const LAST_LOOK_s = 180;

export class SessionCore {
  readonly tree: FeedTree;

  protected constructor(readonly state: SessionState) {
    const { tree, complaints } = readTree(state.treeText);
    if (tree === null)
      throw new Error(`the feed tree has a mistake in line ${complaints[0]!.line}: ${complaints[0]!.text}`);
    this.tree = tree;
    for (const [node, alone] of Object.entries(state.alone)) tree.nodes[Number(node)]!.alone = alone;
    for (const part of [...state.cleared, ...state.restricted]) tree.nodes[part]!.unknown = false;
    for (const part of state.restricted) restrict(tree, part);
    this.dropForbidden();
  }

  protected note(code: string, text: string): void {
    this.state.log.push({ t_s: this.state.now_s, code, text });
  }

  protected go(phase: Phase): void {
    this.state.phase = phase;
  }

  protected level(target_mA: number | null, patience_s: number): void {
    this.go({ name: 'levelling', since_s: this.state.now_s, target_mA, patience_s });
  }

  protected last(length_s: number): Level | null {
    return levelBetween(this.state.level, this.state.now_s - length_s - 0.5, this.state.now_s);
  }

  protected near(level_mA: number, target_mA: number): boolean {
    return Math.abs(level_mA - target_mA) <= Math.max(FLICKER_mA + 2, 0.03 * Math.abs(target_mA));
  }

  /** Whether the draw has been within the flicker of a level for so long. */
  protected held(length_s: number, level_mA: number): boolean {
    if (this.state.now_s - Math.max(0, this.state.level.blocks[0]?.t_s ?? this.state.now_s) < Math.min(length_s, 120))
      return false;
    const phase = this.state.phase;
    if ('since_s' in phase && this.state.now_s - phase.since_s < length_s) return false;
    const long = this.last(Math.min(length_s, 120));
    return long !== null && long.still && this.near(long.mean_mA, level_mA);
  }

  protected proposedTest(): { kind: 'pull' | 'unplug'; node: number } | null {
    const next = this.state.plan[0];
    return next?.kind === 'pull' || next?.kind === 'unplug' ? { kind: next.kind, node: next.node } : null;
  }

  /** The draw that is looked for at a node; 0 where it is not likely there. */
  protected expected_mA(node: number, share_min: number): number {
    const next = this.state.plan[0];
    return next?.node === node && next.share >= share_min ? next.amount_mA : 0;
  }

  /** Whether a fall that nobody tapped is what is looked for at that node. */
  protected fits(node: number, fall_mA: number, share_min = 0.25): boolean {
    const next = this.state.plan[0];
    return (
      next?.node === node &&
      next.share >= share_min &&
      Math.abs(next.amount_mA - fall_mA) <= Math.max(FLICKER_mA, 0.15 * next.amount_mA)
    );
  }

  /**
   * What is out behind a node (-1: anywhere) and took something with it. What took nothing
   * draws nothing, or is not out at all (a wrong tap): either way it may as well be counted in.
   */
  protected missing(node: number): number[] {
    const took = this.state.out.filter((one) => one.amount_mA > FLICKER_mA + 2).map((one) => one.node);
    return node < 0 ? took : took.filter((id) => isBehind(this.tree, id, node));
  }

  protected count(kind: string, node: number): void {
    const name = testName(kind, node);
    this.state.done[name] = (this.state.done[name] ?? 0) + 1;
  }

  protected observeLevel(how: 'total' | 'level', level: Level): void {
    const { state } = this;
    state.observations.push({
      node: -1,
      without: this.missing(-1),
      amount_mA: level.mean_mA,
      sigma_mA: level.sigma_mA,
      how,
      t_s: state.now_s,
    });
    if (how === 'total')
      state.observations.sort((one, other) => Number(other.how === 'total') - Number(one.how === 'total'));
  }

  /** Taking off a draw can wake a car for a minute or more; when that ends, the draw falls again. */
  protected justDisturbed(): boolean {
    const { state } = this;
    return state.observations.some(
      (one) =>
        (one.how === 'pull' || one.how === 'unplug') &&
        one.amount_mA > 2 * FLICKER_mA &&
        state.now_s - one.t_s < PATIENCE_s,
    );
  }

  protected finish(outcome: Extract<Phase, { name: 'finished' }>['outcome'], text: string): void {
    this.note(outcome, text);
    this.go({ name: 'finished', outcome });
  }

  /** After each result: what is believed now, whether that is enough, and what to do next. */
  protected replan(): void {
    const { state } = this;
    if (state.phase.name === 'finished' || state.base_mA === null) return;
    const verdict = conclude(this.tree, state, believe);
    for (const named of verdict.newlyNamed) {
      state.named.push(named);
      this.note('named', `${called(this.tree, named.node)} draws ${named.amount_mA.toFixed(0)} mA`);
    }
    if (verdict.outcome === 'undecided' && !state.lastLook) {
      state.lastLook = true;
      this.note('last-look', 'nothing is left to try; the car is watched a while longer');
      return this.level(null, LAST_LOOK_s);
    }
    if (verdict.outcome !== null) return this.finish(verdict.outcome, verdict.sentence);
    state.plan = verdict.plan;
    const next = state.plan[0]!;
    if (next.kind === 'refit') this.go({ name: 'bridge-on', node: next.node, since_s: state.now_s });
    else this.propose();
  }

  /**
   * What was planned before a fuse was marked, or by an earlier version that did not know its name, is planned no more.
   */
  private dropForbidden(): void {
    const { state, tree } = this;
    const may = (kind: string, node: number) =>
      kind === 'refit' || careOf(tree, node) === 'free' || (kind === 'drop' && careOf(tree, node) === 'measure only');
    state.plan = state.plan.filter(({ kind, node }) => may(kind, node));
    if (state.repeat !== null && !may(state.repeat.kind, state.repeat.node)) state.repeat = null;
  }

  protected leaveAlone(node: number, alone: boolean): void {
    const { state, tree } = this;
    state.alone[node] = alone;
    tree.nodes[node]!.alone = alone;
    this.dropForbidden();
    this.note('alone', `${called(tree, node)} is ${alone ? 'left alone' : 'no longer left alone'}`);
    if (state.phase.name === 'proposing' || this.asksWhatFeeds(state.phase)) this.replan();
  }

  protected asksWhatFeeds(phase: Phase): phase is Extract<Phase, { name: 'asking' }> {
    return phase.name === 'asking' && phase.question === 'what-feeds';
  }

  /** `yes`: it is a restraint or high-voltage circuit. Of several, each is asked about then. */
  protected answerWhatFeeds(phase: Extract<Phase, { name: 'asking' }>, yes: boolean): void {
    const { state, tree } = this;
    const kind = state.plan[0]!.kind;
    const parts = phase.other !== null ? [phase.other] : kind === 'refit' ? [] : unknownParts(tree, kind, phase.node);
    if (yes && parts.length > 1) return this.go({ ...phase, other: parts[0]! });
    for (const part of parts) {
      tree.nodes[part]!.unknown = false;
      (yes ? state.restricted : state.cleared).push(part);
      if (yes) restrict(tree, part);
    }
    this.dropForbidden();
    this.note(
      'feeds',
      `${parts.map((part) => called(tree, part)).join(', ')}: ${yes ? 'a' : 'no'} restraint or high-voltage circuit`,
    );
    this.replan();
  }

  /** Proposes the first move of the plan; where the list does not say what it touches, that is asked first. */
  protected propose(): void {
    const { state, tree } = this;
    const next = state.plan[0];
    const unknown = next === undefined || next.kind === 'refit' ? [] : unknownParts(tree, next.kind, next.node);
    if (unknown.length === 0) return this.go({ name: 'proposing', since_s: state.now_s });
    this.go({
      name: 'asking',
      question: 'what-feeds',
      node: next!.node,
      other: null,
      since_s: state.now_s,
      before_mA: state.base_mA ?? 0,
    });
  }
}
