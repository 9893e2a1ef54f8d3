// The pull session: a state machine that is told what happens (readings, taps, entries)
// and says what to do next. It holds no clock, no port and no screen. What it may
// conclude is in `conclude.ts`, what it says in `session-view.ts`.

import { believe } from './belief.ts';
import { called, isBehind, partCount } from './tree.ts';
import type { FeedTree } from './tree.ts';
import { currentFromDrop } from './fuses.ts';
import { FLICKER_mA, levelBetween, newLevelMemory, takeReading } from './level.ts';
import type { Level } from './level.ts';
import { DEFAULT_COSTS } from './moves.ts';
import { testName } from './planner.ts';
import { readTree } from './tree-build.ts';
import { conclude, smallestSought_mA } from './conclude.ts';
import type { BayEvent, Phase, SessionOptions, SessionState } from './session-state.ts';

/** A level is measured over this. */
const LOOK_s = 8;
/** The first level of all decides what is looked for: it is watched longer. */
const FIRST_LOOK_s = 20;
/** Before it is called undecided. */
const LAST_LOOK_s = 180;
/** Contacts and inrush after a pull are over then. */
const BOUNCE_s = 2;
/** A measurement that is not sure goes on for this long. */
const LOOK_s_MAX = 30;
/** A fall or a rise that held for this long is one. */
const NOTICE_s = 3;
/** After a prompt changed, a second tap of the same hand is not an answer to the new one. */
const DOUBLE_TAP_s = 1.5;
/** A fall so soon after a tap that brought nothing may belong to that tap. */
const LATE_s = 40;
/** Another level than expected is believed after it held still for this long. */
const PATIENCE_s = 240;
/** A fall that was noticed is asked about if no tap follows. */
const TAP_WAIT_s = 15;
/** A fall smaller than expected is watched for this long: it may grow. */
const LESS_s = 75;
/** The longest that a car takes to sleep again (common practice: 15 to 30 min). */
export const SETTLE_s_MAX = 1800;
/** A refit whose draw stays away this long is asked about. */
const BACK_s = 20;

export class PullSession {
  readonly tree: FeedTree;
  private lastTap_s = -Infinity;

  private constructor(readonly state: SessionState) {
    const { tree, complaints } = readTree(state.treeText);
    if (tree === null) throw new Error(`the feed tree has a mistake in line ${complaints[0]!.line}: ${complaints[0]!.text}`);
    this.tree = tree;
  }

  /** @throws Error naming the first mistake in the tree */
  static start(treeText: string, options: Partial<SessionOptions> = {}): PullSession {
    return new PullSession({
      version: 1, treeText, now_s: 0, bridge: 'off',
      options: { allowance_mA: 50, step_mV: 0.1, ...options, costs: { ...DEFAULT_COSTS, ...options.costs } },
      phase: { name: 'levelling', since_s: 0, target_mA: null, patience_s: FIRST_LOOK_s },
      level: newLevelMemory(), base_mA: null, observations: [], out: [], done: {}, evidence: [], named: [], plan: [], repeat: null, unplaced_mA: 0, lastLook: false, settled_s: [], log: [],
    });
  }

  /**
   * Goes on with a session that was kept. What the car did meanwhile is not known: its
   * level is measured anew.
   * @throws Error where the text is no session
   */
  static resume(json: string): PullSession {
    let state: SessionState;
    try {
      state = JSON.parse(json) as SessionState;
    } catch (error) {
      throw new Error('what was kept of the session is not whole; start a new one', { cause: error });
    }
    if (state?.version !== 1 || typeof state.treeText !== 'string') throw new Error('what was kept is not a session of this version; start a new one');
    const session = new PullSession(state);
    state.level = newLevelMemory();
    if (state.phase.name !== 'finished' && state.base_mA !== null) session.level(state.base_mA, PATIENCE_s);
    session.note('resumed', 'the session goes on');
    return session;
  }

  toJSON(): string {
    return JSON.stringify(this.state);
  }

  /** Takes one event in. Events in the order of their times. */
  take(event: BayEvent): void {
    const { state } = this;
    state.now_s = Math.max(state.now_s, event.t_s);
    switch (event.kind) {
      case 'reading': return this.reading(event);
      case 'tap': return this.tap();
      case 'did': return event.what === 'refitted' ? this.refitted(event.node) : this.tookOut(event.what, event.node, true);
      case 'bridge': return this.bridge(event.on);
      case 'drop': return this.drop(event.node, event.drop_mV);
      case 'evidence':
        state.evidence.push(event.evidence);
        this.note('evidence', `noted against ${called(this.tree, event.evidence.node)}: ${event.evidence.text}`);
        return this.replan();
      case 'answer': return this.answer(event.yes);
      case 'wrong': return this.takeBack();
      case 'skip': return this.skip();
      case 'stop': return this.finish('stopped', 'stopped');
    }
  }

  private note(code: string, text: string): void {
    this.state.log.push({ t_s: this.state.now_s, code, text });
  }

  private go(phase: Phase): void {
    this.state.phase = phase;
  }

  private level(target_mA: number | null, patience_s: number): void {
    this.go({ name: 'levelling', since_s: this.state.now_s, target_mA, patience_s });
  }

  private reading(reading: { t_s: number; mean_mA: number; min_mA: number; max_mA: number }): void {
    const { state } = this;
    const { phase } = state;
    // Past the bridge the board sees a part of the draw, or none.
    if (state.bridge === 'on') return;
    const blocks = state.level.blocks.length;
    takeReading(state.level, reading);
    if (state.level.blocks.length === blocks) return;
    switch (phase.name) {
      case 'levelling': return this.lookLevel(phase);
      case 'proposing': return this.watch();
      case 'measuring': return this.measure(phase);
      case 'bridge-on':
      case 'refitting':
      case 'bridge-off': return this.watchRefit(phase);
      case 'settling': return this.settle(phase);
      default:
    }
  }

  private last(length_s: number): Level | null {
    return levelBetween(this.state.level, this.state.now_s - length_s - 0.5, this.state.now_s);
  }

  private near(level_mA: number, target_mA: number): boolean {
    return Math.abs(level_mA - target_mA) <= Math.max(FLICKER_mA + 2, 0.03 * Math.abs(target_mA));
  }

  private lookLevel(phase: Extract<Phase, { name: 'levelling' }>): void {
    const { state } = this;
    const level = this.last(LOOK_s);
    if (level === null || level.length_s < LOOK_s || !level.still) return;
    if (phase.target_mA === null ? !this.held(phase.patience_s, level.mean_mA) : state.now_s - phase.since_s < LOOK_s) return;
    // A hand may have gone on meanwhile.
    if (phase.target_mA !== null && phase.target_mA - level.mean_mA > Math.max(2 * FLICKER_mA, 0.03 * phase.target_mA) && this.proposedTest() !== null) return this.noticed(phase.target_mA);
    const expected = phase.target_mA === null || this.near(level.mean_mA, phase.target_mA);
    if (!expected && !this.held(phase.patience_s, level.mean_mA)) return;
    this.rebase(level, phase.target_mA !== null);
  }

  /** Whether the draw has been within the flicker of a level for so long. */
  private held(length_s: number, level_mA: number): boolean {
    if (this.state.now_s - Math.max(0, this.state.level.blocks[0]?.t_s ?? this.state.now_s) < Math.min(length_s, 120)) return false;
    const phase = this.state.phase;
    if ('since_s' in phase && this.state.now_s - phase.since_s < length_s) return false;
    const long = this.last(Math.min(length_s, 120));
    return long !== null && long.still && this.near(long.mean_mA, level_mA);
  }

  private rebase(level: Level, unrest = false): void {
    const { state } = this;
    const moved = state.base_mA === null ? 0 : level.mean_mA - state.base_mA;
    const first = state.base_mA === null;
    state.base_mA = level.mean_mA;
    if (first) {
      this.observeLevel('total', level);
      this.note('level', `the car draws ${level.mean_mA.toFixed(0)} mA`);
      if (level.mean_mA <= state.options.allowance_mA) return this.finish('nothing', `the draw is within the allowance of ${state.options.allowance_mA} mA`);
      return this.replan();
    }
    if (-moved > 2 * FLICKER_mA && this.doubtLast(-moved)) return this.replan();
    if (!this.near(moved, 0)) {
      this.note('moved', `the draw changed by ${moved.toFixed(0)} mA by itself`);
      // Nothing was taken out yet: the first level held something that has ended.
      if (state.out.length === 0 && moved < 0 && this.proposedTest() === null && !state.observations.some((one) => one.how === 'refit')) state.observations = state.observations.filter((one) => one.how !== 'total' && one.how !== 'level');
    }
    this.observeLevel(state.observations.some((one) => one.how === 'total') ? 'level' : 'total', level);
    // A hand is on its way to what was asked for: the car's unrest does not change that.
    if (unrest && state.plan.length > 0) return this.go({ name: 'proposing', since_s: state.now_s });
    this.replan();
  }

  private observeLevel(how: 'total' | 'level', level: Level): void {
    const { state } = this;
    state.observations.push({ node: -1, without: this.missing(-1), amount_mA: level.mean_mA, sigma_mA: level.sigma_mA, how, t_s: state.now_s });
    if (how === 'total') state.observations.sort((one, other) => Number(other.how === 'total') - Number(one.how === 'total'));
  }

  /**
   * The draw fell while nobody looked. After a result that was a fall, it is the rest of
   * that. After results of nothing, a hand may have come late, or the car was awake just
   * then: those results say nothing, and what they were of may be asked for again.
   * @returns whether there was such a result
   */
  private doubtLast(fall_mA: number): boolean {
    const { state, tree } = this;
    const tests = state.observations.filter((one) => (one.how === 'pull' || one.how === 'unplug') && state.out.some((gone) => gone.node === one.node));
    const last = tests.at(-1);
    if (last === undefined || state.now_s - last.t_s > PATIENCE_s + 60) return false;
    if (last.amount_mA >= 2 * FLICKER_mA) {
      last.amount_mA += fall_mA;
      last.sigma_mA = Math.hypot(last.sigma_mA, FLICKER_mA / 2);
      state.out.find((one) => one.node === last.node)!.amount_mA += fall_mA;
      this.note('more', `after ${called(tree, last.node)} the draw fell by another ${fall_mA.toFixed(0)} mA: ${last.amount_mA.toFixed(0)} mA in all`);
      return true;
    }
    const doubted = tests.filter((one) => last.t_s - one.t_s < LATE_s * 2 && one.amount_mA < 2 * FLICKER_mA);
    state.observations = state.observations.filter((one) => !doubted.includes(one));
    state.unplaced_mA += fall_mA;
    for (const one of doubted) state.done[testName(one.how, one.node)] = Math.max(0, (state.done[testName(one.how, one.node)] ?? 0) - 1);
    this.note('doubt', `the draw fell by ${fall_mA.toFixed(0)} mA after ${doubted.map((one) => called(tree, one.node)).join(' and ')}: not sure that nothing changed there`);
    return true;
  }

  /** Nothing was said yet: a fall is what was asked for, a rise is the car waking. */
  private watch(): void {
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

  private noticed(before_mA: number): void {
    const { state } = this;
    const fall_mA = before_mA - this.last(NOTICE_s)!.mean_mA;
    const late = this.lateTap(fall_mA);
    const proposed = this.proposedTest();
    if (fall_mA < 0.4 * smallestSought_mA(this.tree, state) || (proposed === null && late === null)) {
      this.note('fell', 'the draw fell by itself');
      return this.level(null, 15);
    }
    if (late !== null) return this.go({ name: 'asking', question: proposed === null ? 'was-it' : 'late-or-new', node: late, other: proposed?.node ?? late, since_s: state.now_s, before_mA });
    if (proposed === null) return;
    this.go({
      name: 'measuring', what: proposed.kind === 'pull' ? 'pulled' : 'unplugged', node: proposed.node, at_s: state.now_s - NOTICE_s, tapped: false,
      before_mA, beforeSigma_mA: FLICKER_mA / 4,
    });
  }

  private proposedTest(): { kind: 'pull' | 'unplug'; node: number } | null {
    const next = this.state.plan[0];
    return next?.kind === 'pull' || next?.kind === 'unplug' ? { kind: next.kind, node: next.node } : null;
  }

  /** The node whose tap, a moment ago, brought much less than this fall. */
  private lateTap(fall_mA: number): number | null {
    const last = this.state.observations.filter((one) => one.how === 'pull' || one.how === 'unplug').at(-1);
    if (last === undefined || !this.state.out.some((one) => one.node === last.node)) return null;
    return this.state.now_s - last.t_s <= LATE_s && last.amount_mA < 0.5 * fall_mA ? last.node : null;
  }

  /** The last result came before the hand: it is measured again. */
  private redo(node: number, before_mA: number): void {
    const { state } = this;
    const last = state.observations.filter((one) => one.node === node && (one.how === 'pull' || one.how === 'unplug')).at(-1)!;
    state.observations = state.observations.filter((one) => one !== last);
    state.out = state.out.filter((one) => one.node !== node);
    this.note('late', `${called(this.tree, node)} came out after the tap; measured again`);
    this.go({ name: 'measuring', what: last.how === 'unplug' ? 'unplugged' : 'pulled', node, at_s: state.now_s - NOTICE_s, tapped: true, before_mA, beforeSigma_mA: FLICKER_mA / 4 });
  }

  private tap(): void {
    const { state } = this;
    if (state.now_s - this.lastTap_s < DOUBLE_TAP_s) return;
    this.lastTap_s = state.now_s;
    const { phase } = state;
    const next = this.proposedTest();
    // Also while the car is restless: the hand does not wait for it.
    const asked = phase.name === 'proposing' || (phase.name === 'levelling' && phase.target_mA !== null);
    if (asked && next !== null) this.tookOut(next.kind === 'pull' ? 'pulled' : 'unplugged', next.node, true);
    else if (phase.name === 'measuring') phase.tapped = true;
    else if (phase.name === 'asking' && phase.question === 'was-it') this.answer(true);
    else if (phase.name === 'asking' && phase.question === 'late-or-new') {
      // Whoever taps now has done what is asked for now.
      this.go({ ...phase, question: 'was-it', node: phase.other!, other: null });
      this.answer(true);
    }
    else if (phase.name === 'bridge-on') this.bridge(true);
    else if (phase.name === 'refitting') this.go({ name: 'bridge-off', node: phase.node, since_s: state.now_s });
    else if (phase.name === 'bridge-off') this.bridge(false);
  }

  private bridge(on: boolean): void {
    const { state } = this;
    const { phase, now_s } = state;
    state.bridge = on ? 'on' : 'off';
    this.note('bridge', on ? 'bridge on' : 'bridge off');
    if (on && phase.name === 'bridge-on') this.go({ name: 'refitting', node: phase.node, since_s: now_s });
    if (on) return;
    // What came before belongs to the bridge.
    state.level = newLevelMemory();
    if (phase.name === 'bridge-off' || phase.name === 'refitting') this.startSettling(phase.node);
    else if (phase.name === 'measuring') phase.at_s = now_s;
    else if (phase.name === 'proposing' && state.base_mA !== null) this.level(state.base_mA, PATIENCE_s);
  }

  private tookOut(what: 'pulled' | 'unplugged', node: number, tapped: boolean): void {
    const { state } = this;
    if (state.phase.name === 'measuring' && state.phase.node === node) return;
    if (state.base_mA === null || state.phase.name === 'finished') return;
    if (state.out.some((one) => isBehind(this.tree, node, one.node))) return this.note('dark', `${called(this.tree, node)} has no feed now: nothing can be told from it`);
    const before = levelBetween(state.level, state.now_s - LOOK_s - 1.5, state.now_s - 1);
    const good = before !== null && before.still && this.near(before.mean_mA, state.base_mA);
    this.go({
      name: 'measuring', what, node, at_s: state.now_s, tapped,
      before_mA: good ? before.mean_mA : state.base_mA, beforeSigma_mA: good ? before.sigma_mA : FLICKER_mA / 2,
    });
  }

  private measure(phase: Extract<Phase, { name: 'measuring' }>): void {
    const { state } = this;
    const looked_s = state.now_s - phase.at_s - BOUNCE_s;
    if (looked_s < LOOK_s) return;
    const level = this.last(Math.min(looked_s, looked_s > 2 * LOOK_s ? 2 * LOOK_s : LOOK_s));
    if (level === null) return;
    const change = phase.before_mA - level.mean_mA;
    const unsure_mA = Math.hypot(phase.beforeSigma_mA, level.sigma_mA);
    if (!level.still || change < -(FLICKER_mA + 2)) {
      if (looked_s > PATIENCE_s) this.giveUpMeasuring(phase, level);
      return;
    }
    const nothing = change + 2 * unsure_mA < FLICKER_mA + 2;
    const fell = change - 2 * unsure_mA > FLICKER_mA;
    if (!nothing && !fell && looked_s < LOOK_s_MAX) return;
    // Less than what is looked for here: taking it out may have woken the car for a while.
    const expected_mA = this.expected_mA(phase.node, nothing ? 0.5 : 0.1);
    if ((fell || nothing) && looked_s < LESS_s && expected_mA - change > Math.max(1.5 * FLICKER_mA, 0.2 * change)) return;
    if (!phase.tapped && !fell) return this.go({ name: 'proposing', since_s: state.now_s });
    if (!phase.tapped && (this.justDisturbed() || !this.fits(phase.node, change))) {
      // The tap may be under way.
      if (looked_s < TAP_WAIT_s) return;
      return this.go({ name: 'asking', question: 'was-it', node: phase.node, other: null, since_s: state.now_s, before_mA: phase.before_mA });
    }
    this.measured(phase, change, unsure_mA, level, !nothing && !fell);
  }

  /** Whether a fall that nobody tapped is what is looked for at that node. */
  private fits(node: number, fall_mA: number, share_min = 0.25): boolean {
    const next = this.state.plan[0];
    return next?.node === node && next.share >= share_min && Math.abs(next.amount_mA - fall_mA) <= Math.max(FLICKER_mA, 0.15 * next.amount_mA);
  }

  /** The draw that is looked for at a node; 0 where it is not likely there. */
  private expected_mA(node: number, share_min: number): number {
    const next = this.state.plan[0];
    return next?.node === node && next.share >= share_min ? next.amount_mA : 0;
  }

  private giveUpMeasuring(phase: Extract<Phase, { name: 'measuring' }>, level: Level): void {
    this.note('restless', `no still level after ${called(this.tree, phase.node)} came out; nothing can be told from it`);
    this.count(phase.what === 'pulled' ? 'pull' : 'unplug', phase.node);
    this.state.out.push({ node: phase.node, amount_mA: 0 });
    this.state.base_mA = level.mean_mA;
    this.level(null, FIRST_LOOK_s);
  }

  private count(kind: string, node: number): void {
    const name = testName(kind, node);
    this.state.done[name] = (this.state.done[name] ?? 0) + 1;
  }

  private measured(phase: Extract<Phase, { name: 'measuring' }>, change_mA: number, sigma_mA: number, level: Level, unsure: boolean): void {
    const { state, tree } = this;
    const how = phase.what === 'pulled' ? 'pull' : 'unplug';
    const before = state.done[testName(how, phase.node)] ?? 0;
    this.count(how, phase.node);
    const doubtful = change_mA > 2 * FLICKER_mA && !this.fits(phase.node, change_mA, 0);
    state.observations.push({
      node: phase.node, without: this.missing(phase.node), amount_mA: change_mA, sigma_mA, how, t_s: state.now_s, ...(doubtful && { doubtful }),
    });
    state.out.push({ node: phase.node, amount_mA: change_mA });
    state.base_mA = level.mean_mA;
    this.note('result', `${called(tree, phase.node)} ${phase.what}: ${inWords(change_mA, sigma_mA)}`);
    // Worth another go only where it could be what is looked for.
    if (doubtful && partCount(tree, phase.node) === 1 && before < 2) {
      this.note('doubtful', `not the fall that was looked for, the car may have done it by itself: ${called(tree, phase.node)} goes in again, to see the draw come back`);
      state.repeat = { kind: how, node: phase.node };
    } else if (unsure && before === 0 && change_mA + 2 * sigma_mA > 0.5 * smallestSought_mA(tree, state)) state.repeat = { kind: how, node: phase.node };
    this.replan();
  }

  /** Taking off a draw can wake a car for a minute or more; when that ends, the draw falls again. */
  private justDisturbed(): boolean {
    const { state } = this;
    return state.observations.some((one) => (one.how === 'pull' || one.how === 'unplug') && one.amount_mA > 2 * FLICKER_mA && state.now_s - one.t_s < PATIENCE_s);
  }

  /**
   * What is out behind a node (-1: anywhere) and took something with it. What took nothing
   * draws nothing, or is not out at all (a wrong tap): either way it may as well be counted in.
   */
  private missing(node: number): number[] {
    const took = this.state.out.filter((one) => one.amount_mA > FLICKER_mA + 2).map((one) => one.node);
    return node < 0 ? took : took.filter((id) => isBehind(this.tree, id, node));
  }

  private drop(node: number, drop_mV: number): void {
    const { state, tree } = this;
    const { type, rating_A } = tree.nodes[node]!;
    const reading = currentFromDrop(type, rating_A, drop_mV, state.options.step_mV ?? 0.1);
    if (reading === null) return this.note('drop', `no resistance is known for ${called(tree, node)}; its drop tells nothing`);
    this.count('drop', node);
    if (state.out.some((one) => isBehind(tree, node, one.node))) return this.note('dark', `${called(tree, node)} has no feed now: a drop across it tells nothing`);
    state.observations.push({
      node, without: this.missing(node), amount_mA: reading.current_mA, sigma_mA: reading.sigma_mA, how: 'drop', t_s: state.now_s,
    });
    this.note('drop', `${called(tree, node)}: ${drop_mV} mV is ${reading.current_mA.toFixed(0)} mA (${reading.low_mA.toFixed(0)} to ${reading.high_mA.toFixed(0)}), resistance ${reading.source}`);
    if (state.phase.name === 'proposing') this.replan();
  }

  private refitted(node: number): void {
    const { state } = this;
    if (!state.out.some((one) => one.node === node)) return this.note('in', `${called(this.tree, node)} was not out`);
    if (state.phase.name === 'finished') {
      state.out = state.out.filter((one) => one.node !== node);
      return this.note('refitted', `${called(this.tree, node)} is back in`);
    }
    if (state.bridge === 'on') this.go({ name: 'bridge-off', node, since_s: state.now_s });
    else this.startSettling(node);
  }

  /** The hand may be quicker than the tap: a rise shows a fuse that went in without the bridge, or the bridge coming off. */
  private watchRefit(phase: Extract<Phase, { name: 'bridge-on' | 'refitting' | 'bridge-off' }>): void {
    const { state } = this;
    const level = this.last(NOTICE_s);
    const amount = state.out.find((one) => one.node === phase.node)?.amount_mA ?? 0;
    if (level === null || state.base_mA === null || level.mean_mA < state.base_mA + Math.max(15, 0.5 * amount)) return;
    this.note('no-bridge', `${called(this.tree, phase.node)} seems to be in again without the bridge; bridge first next time`);
    this.startSettling(phase.node);
  }

  private startSettling(node: number): void {
    const amount = this.state.out.find((one) => one.node === node)?.amount_mA ?? 0;
    this.go({ name: 'settling', node, since_s: this.state.now_s, target_mA: (this.state.base_mA ?? 0) + amount });
  }

  private settle(phase: Extract<Phase, { name: 'settling' }>): void {
    const { state, tree } = this;
    const waited_s = state.now_s - phase.since_s;
    const level = this.last(LOOK_s);
    if (level === null || waited_s < LOOK_s || level.length_s < LOOK_s || !level.still) return;
    const amount = state.out.find((one) => one.node === phase.node)?.amount_mA ?? 0;
    if (this.near(level.mean_mA, phase.target_mA)) return this.settled(phase, level, waited_s);
    if (state.unplaced_mA > 0 && this.near(level.mean_mA, phase.target_mA + state.unplaced_mA)) {
      state.unplaced_mA = 0;
      return this.settled(phase, level, waited_s);
    }
    const away = amount > 2 * FLICKER_mA && level.mean_mA < phase.target_mA - 0.6 * amount;
    if (away && waited_s > BACK_s) return this.go({ name: 'asking', question: 'back-in', node: phase.node, other: null, since_s: state.now_s, before_mA: phase.target_mA });
    const lower = level.mean_mA < phase.target_mA;
    if (waited_s > SETTLE_s_MAX || (this.held(lower ? 60 : 4 * PATIENCE_s, level.mean_mA))) {
      this.note('settled-elsewhere', `after refitting ${called(tree, phase.node)} the car settled at ${level.mean_mA.toFixed(0)} mA, not at ${phase.target_mA.toFixed(0)}`);
      this.settled(phase, level, waited_s);
    }
  }

  private settled(phase: Extract<Phase, { name: 'settling' }>, level: Level, waited_s: number): void {
    const { state } = this;
    state.settled_s.push(waited_s);
    state.out = state.out.filter((one) => one.node !== phase.node);
    const before_mA = state.base_mA ?? 0;
    const rise_mA = level.mean_mA - before_mA;
    if (state.repeat?.node === phase.node) this.cameBack(phase.node, rise_mA);
    state.base_mA = phase.target_mA;
    this.note('settled', `${called(this.tree, phase.node)} is in again; settled after ${waited_s.toFixed(0)} s`);
    state.observations.push({
      node: phase.node, without: this.missing(phase.node), amount_mA: rise_mA, sigma_mA: Math.hypot(level.sigma_mA, FLICKER_mA / 2), how: 'refit', t_s: state.now_s,
    });
    this.rebase(level);
  }

  /** A draw that goes with a part and comes back with it is that part's. */
  private cameBack(node: number, rise_mA: number): void {
    const { state } = this;
    const fall = state.observations.find((one) => one.node === node && one.doubtful === true);
    if (fall === undefined || Math.abs(rise_mA - fall.amount_mA) > Math.max(FLICKER_mA, 0.25 * fall.amount_mA)) return;
    fall.doubtful = false;
    state.repeat = null;
  }

  private answer(yes: boolean): void {
    const { state } = this;
    const { phase } = state;
    if (phase.name !== 'asking') return;
    if (phase.question === 'was-it') {
      if (yes && phase.other !== null) return this.redo(phase.node, phase.before_mA);
      const what = this.proposedTest()?.kind === 'unplug' ? 'unplugged' : 'pulled';
      if (yes) return this.go({ name: 'measuring', what, node: phase.node, at_s: phase.since_s - NOTICE_s, tapped: true, before_mA: phase.before_mA, beforeSigma_mA: FLICKER_mA / 4 });
      this.note('fell', 'the draw fell by itself');
      return this.level(null, 15);
    }
    if (phase.question === 'late-or-new') {
      if (yes) return this.redo(phase.node, phase.before_mA);
      return this.go({ name: 'asking', question: 'was-it', node: phase.other!, other: null, since_s: phase.since_s, before_mA: phase.before_mA });
    }
    if (!yes) return this.go({ name: 'bridge-on', node: phase.node, since_s: state.now_s });
    this.note('vanished', `${called(this.tree, phase.node)} is in again, but its draw did not come back: taking it out has reset something behind it`);
    state.out = state.out.filter((one) => one.node !== phase.node);
    this.level(null, FIRST_LOOK_s);
  }

  private takeBack(): void {
    const { state } = this;
    const last = state.observations.at(-1);
    if (last === undefined || last.how === 'total') return this.note('wrong', 'there is nothing to take back');
    state.observations.pop();
    state.repeat = null;
    const name = testName(last.how, last.node);
    state.done[name] = Math.max(0, (state.done[name] ?? 0) - 1);
    this.note('wrong', `taken back: ${called(this.tree, last.node)}`);
    if (last.how !== 'drop') {
      const gone = state.out.find((one) => one.node === last.node);
      state.out = state.out.filter((one) => one !== gone);
      return this.level(null, FIRST_LOOK_s);
    }
    this.replan();
  }

  private skip(): void {
    const { state } = this;
    const next = state.plan[0];
    if (state.phase.name !== 'proposing' || next === undefined) return;
    this.note('skipped', `not here: ${called(this.tree, next.node)}`);
    if (next.kind !== 'refit') state.done[testName(next.kind, next.node)] = 99;
    this.replan();
  }

  private finish(outcome: Extract<Phase, { name: 'finished' }>['outcome'], text: string): void {
    this.note(outcome, text);
    this.go({ name: 'finished', outcome });
  }

  /** After each result: what is believed now, whether that is enough, and what to do next. */
  private replan(): void {
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
    this.go(next.kind === 'refit' ? { name: 'bridge-on', node: next.node, since_s: state.now_s } : { name: 'proposing', since_s: state.now_s });
  }
}

function inWords(change_mA: number, sigma_mA: number): string {
  const size = `${Math.abs(change_mA).toFixed(0)} mA (give or take ${Math.max(1, 2 * sigma_mA).toFixed(0)})`;
  if (change_mA - 2 * sigma_mA > FLICKER_mA) return `the draw fell by ${size}`;
  if (change_mA + 2 * sigma_mA < FLICKER_mA + 2) return 'nothing changed';
  return `not sure: ${size}, and 10 mA mean nothing`;
}
