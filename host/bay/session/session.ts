// The pull session: a state machine that is told what happens (readings, taps, entries)
// and says what to do next. It holds no clock, no port and no screen. What it may
// conclude is in `conclude.ts`, what it says in `session-view.ts`.

import { oddsInWords } from '../search/evidence.ts';
import { DEFAULT_COSTS } from '../search/moves.ts';
import { FIRST_LOOK_s, LOOK_s, NOTICE_s, PATIENCE_s } from './session-core.ts';
import { TAP_WAIT_s } from './session-measure.ts';
import { TakingBack } from './taking-back.ts';
import { FLICKER_mA, levelBetween, newLevelMemory, takeReading } from '../search/level.ts';
import { testName } from '../search/planner.ts';
import { bridgedAside } from './session-state.ts';
import type { BayEvent, Phase, SessionOptions, SessionState } from './session-state.ts';
import { called } from '../tree/tree.ts';

/** After a prompt changed, a second tap of the same hand is not an answer to the new one. */
const DOUBLE_TAP_s = 1.5;

export class PullSession extends TakingBack {
  private lastTap_s = -Infinity;

  /** @throws Error naming the first mistake in the tree */
  static start(treeText: string, options: Partial<SessionOptions> = {}): PullSession {
    return new PullSession({
      version: 1,
      treeText,
      now_s: 0,
      bridge: 'off',
      options: { allowance_mA: 50, step_mV: 0.1, ...options, costs: { ...DEFAULT_COSTS, ...options.costs } },
      phase: { name: 'levelling', since_s: 0, target_mA: null, patience_s: FIRST_LOOK_s },
      level: newLevelMemory(),
      base_mA: null,
      observations: [],
      out: [],
      alone: {},
      cleared: [],
      restricted: [],
      done: {},
      evidence: [],
      named: [],
      plan: [],
      repeat: null,
      unplaced_mA: 0,
      suspects: [],
      lastLook: false,
      settled_s: [],
      log: [],
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
    if (state?.version !== 1 || typeof state.treeText !== 'string')
      throw new Error('what was kept is not a session of this version; start a new one');
    state.alone ??= {};
    state.cleared ??= [];
    state.restricted ??= [];
    const session = new PullSession(state);
    state.level = newLevelMemory();
    // The clock starts anew with the next recording.
    for (const one of state.observations) {
      one.trace_s ??= one.t_s;
      one.t_s -= state.now_s + 2 * PATIENCE_s;
    }
    state.now_s = 0;
    // What was asked for and came out just then is seen by its fall; anything else is not measured any more.
    const unseen = state.phase.name === 'measuring' && session.proposedTest()?.node !== state.phase.node;
    if (unseen) session.leftMeasuring();
    if (state.phase.name !== 'finished' && state.base_mA !== null)
      session.level(unseen ? null : state.base_mA, PATIENCE_s);
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
      case 'reading':
        return this.reading(event);
      case 'tap':
        return this.tap();
      case 'did':
        return event.what === 'refitted' ? this.refitted(event.node) : this.tookOut(event.what, event.node, true);
      case 'bridge':
        return this.bridge(event.on);
      case 'drop':
        return this.drop(event.node, event.drop_mV);
      case 'evidence':
        state.evidence.push(event.evidence);
        this.note(
          'evidence',
          `noted on ${called(this.tree, event.evidence.node)}: ${event.evidence.text} (${oddsInWords(event.evidence.odds)})`,
        );
        return this.replan();
      case 'answer':
        return this.answer(event.yes);
      case 'alone':
        return this.leaveAlone(event.node, event.alone);
      case 'wrong':
        return this.takeBack();
      case 'skip':
        return this.skip();
      case 'stop':
        this.leftMeasuring();
        return this.finish('stopped', 'stopped');
    }
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
      case 'levelling':
        return this.lookLevel(phase);
      case 'proposing':
        return this.watch();
      case 'measuring':
        return this.measure(phase);
      case 'bridge-on':
      case 'refitting':
      case 'bridge-off':
        return this.watchRefit(phase);
      case 'settling':
        return this.settle(phase);
      default:
    }
  }

  private tap(): void {
    const { state } = this;
    if (state.now_s - this.lastTap_s < DOUBLE_TAP_s) return;
    this.lastTap_s = state.now_s;
    const { phase } = state;
    const next = this.proposedTest();
    if (bridgedAside(state)) return this.bridge(false);
    // Also while the car is restless: the hand does not wait for it.
    const asked = phase.name === 'proposing' || (phase.name === 'levelling' && phase.target_mA !== null);
    if (asked && next !== null) this.tookOut(next.kind === 'pull' ? 'pulled' : 'unplugged', next.node, true);
    else if (phase.name === 'measuring') phase.tapped = true;
    else if (phase.name === 'asking' && (phase.question === 'late-or-new' || phase.question === 'was-it'))
      this.tappedAtQuestion(phase);
    else if (phase.name === 'bridge-on') this.bridge(true);
    else if (phase.name === 'refitting') this.go({ name: 'bridge-off', node: phase.node, since_s: state.now_s });
    else if (phase.name === 'bridge-off') this.bridge(false);
  }

  /** A tap right after the fall is for what is asked for now; long after it, the hand was not there when it fell. */
  private tappedAtQuestion(phase: Extract<Phase, { name: 'asking' }>): void {
    if (this.state.now_s - phase.since_s <= TAP_WAIT_s) {
      this.go({ ...phase, question: 'was-it', node: phase.other ?? phase.node, other: null });
      return this.answer(true);
    }
    this.note('fell', 'the draw fell before the tap');
    const next = this.proposedTest();
    const before = levelBetween(this.state.level, this.state.now_s - LOOK_s - 1.5, this.state.now_s - 1);
    if (next === null || before === null || !before.still) return this.level(null, 15);
    // The hand went on with what was asked for: that is measured, from the level of just before.
    const fall_mA = (this.state.base_mA ?? 0) - before.mean_mA;
    if (fall_mA > 2 * FLICKER_mA) this.doubtLast(fall_mA);
    this.state.base_mA = before.mean_mA;
    this.tookOut(next.kind === 'pull' ? 'pulled' : 'unplugged', next.node, true);
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

  private answer(yes: boolean): void {
    const { state } = this;
    const { phase } = state;
    if (phase.name !== 'asking') return;
    if (phase.question === 'what-feeds') return this.answerWhatFeeds(phase, yes);
    if (phase.question === 'was-it') {
      if (yes && phase.other !== null) return this.redo(phase.node, phase.before_mA);
      const what = this.proposedTest()?.kind === 'unplug' ? 'unplugged' : 'pulled';
      if (yes)
        return this.go({
          name: 'measuring',
          what,
          node: phase.node,
          at_s: phase.since_s - NOTICE_s,
          tapped: true,
          before_mA: phase.before_mA,
          beforeSigma_mA: FLICKER_mA / 4,
        });
      this.note('fell', 'the draw fell by itself');
      return this.level(null, 15);
    }
    if (phase.question === 'late-or-new') {
      if (yes) return this.redo(phase.node, phase.before_mA);
      return this.go({
        name: 'asking',
        question: 'was-it',
        node: phase.other!,
        other: null,
        since_s: phase.since_s,
        before_mA: phase.before_mA,
      });
    }
    if (!yes) return this.go({ name: 'bridge-on', node: phase.node, since_s: state.now_s });
    this.note(
      'vanished',
      `${called(this.tree, phase.node)} is in again, but its draw did not come back: taking it out has reset something behind it`,
    );
    state.out = state.out.filter((one) => one.node !== phase.node);
    this.level(null, FIRST_LOOK_s);
  }

  private skip(): void {
    const { state } = this;
    const next = state.plan[0];
    if ((state.phase.name !== 'proposing' && !this.asksWhatFeeds(state.phase)) || next === undefined) return;
    this.note('skipped', `not here: ${called(this.tree, next.node)}`);
    if (next.kind !== 'refit') state.done[testName(next.kind, next.node)] = 99;
    this.replan();
  }
}
