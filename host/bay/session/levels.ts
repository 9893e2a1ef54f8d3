// The live level between two moves: waiting until it holds still, noticing a fall or a
// rise that nobody tapped, and what that means for the results before it. And after a fuse
// or part went in again: the wait until the car draws what it did, and what that says.

import { current } from '../../say/quantities.ts';
import { FLICKER_mA } from '../search/level.ts';
import type { Level } from '../search/level.ts';
import { smallestSought_mA } from './conclude.ts';
import { isTest, nameOf, proposedTest } from './session-state.ts';
import type { PhaseOf, Session } from './session-state.ts';
import {
  ask,
  awaitLevel,
  count,
  fellByItself,
  finish,
  go,
  held,
  isOut,
  lastLevel,
  leftWith_mA,
  LOOK_s,
  measureFall,
  near,
  note,
  noteOn,
  NOTICE_s,
  observe,
  observeLevel,
  PATIENCE_s,
  propose,
  refit,
  replan,
  stillLevel,
  withoutOut,
  withoutSeen,
} from './steps.ts';

/** A fall so soon after a tap that brought nothing may belong to that tap. */
const LATE_s = 40;
/** The longest that a car takes to sleep again (common practice: 15 to 30 min). */
export const SETTLE_s_MAX = 1800;
/** A refit whose draw stays away this long is asked about. */
const BACK_s = 20;

/** A reading while a level is waited for: believed once it is still, and what was expected or held for long. */
export function whileLevelling(state: Session, phase: PhaseOf<'levelling'>): Session {
  const { target_mA, patience_s, since_s } = phase;
  const level = stillLevel(state);
  if (level === null) return state;
  if (target_mA === null) return held(state, patience_s, level.mean_mA) ? rebase(state, level, false) : state;
  if (state.now_s - since_s < LOOK_s) return state;
  // A hand may have gone on meanwhile.
  if (target_mA - level.mean_mA > Math.max(2 * FLICKER_mA, 0.03 * target_mA) && proposedTest(state) !== null)
    return noticed(state, target_mA);
  const believed = near(level.mean_mA, target_mA) || held(state, patience_s, level.mean_mA);
  return believed ? rebase(state, level, true) : state;
}

/** The car draws another level now. @param unrest it was restless while something was asked for */
export function rebase(before: Session, level: Level, unrest: boolean): Session {
  const { mean_mA } = level;
  let state: Session = { ...before, base_mA: mean_mA };
  if (before.base_mA === null) {
    const { allowance_mA } = state.options;
    state = note(observeLevel(state, level), 'level', `the car draws ${current(mean_mA)}`);
    return mean_mA <= allowance_mA
      ? finish(state, 'nothing', `the draw is within the allowance of ${allowance_mA} mA`)
      : replan(state);
  }
  const moved_mA = mean_mA - before.base_mA;
  const doubted = -moved_mA > 2 * FLICKER_mA ? doubtLast(state, -moved_mA) : null;
  if (doubted !== null) return replan(doubted);
  if (!near(moved_mA, 0)) {
    state = note(state, 'moved', `the draw changed by ${current(moved_mA)} by itself`);
    // Nothing was taken out yet: the first level held something that has ended.
    const untouched = state.out.length === 0 && !state.observations.some((one) => one.how === 'refit');
    if (untouched && moved_mA < 0 && proposedTest(state) === null)
      state = { ...state, observations: state.observations.filter(({ how }) => how !== 'total' && how !== 'level') };
  }
  state = observeLevel(state, level);
  // A hand is on its way to what was asked for: the car's unrest does not change that.
  return unrest && state.plan.length > 0 ? propose(state) : replan(state);
}

/**
 * The draw fell while nobody looked. After a result that was a fall, it is the rest of that. After results of nothing,
 * a hand may have come late, or the car was awake just then: those results say nothing, and what they were of may be
 * asked for again.
 * @returns null where there was no such result
 */
export function doubtLast(state: Session, fall_mA: number): Session | null {
  const { observations, now_s } = state;
  const tests = observations.filter((one) => isTest(one) && isOut(state, one.node));
  const last = tests.at(-1);
  if (last === undefined || now_s - last.t_s > PATIENCE_s + 60) return null;
  if (last.amount_mA >= 2 * FLICKER_mA) {
    const amount_mA = last.amount_mA + fall_mA;
    const more = { ...last, amount_mA, sigma_mA: Math.hypot(last.sigma_mA, FLICKER_mA / 2) };
    const next = {
      ...state,
      observations: observations.map((one) => (one === last ? more : one)),
      out: state.out.map((one) => (one.node === last.node ? { ...one, amount_mA: one.amount_mA + fall_mA } : one)),
    };
    return note(
      next,
      'more',
      `after ${nameOf(state, last.node)} the draw fell by another ${current(fall_mA)}: ${current(amount_mA)} in all`,
    );
  }
  const doubted = tests.filter((one) => last.t_s - one.t_s < LATE_s * 2 && one.amount_mA < 2 * FLICKER_mA);
  const next = doubted.reduce((counted, one) => count(counted, one.how, one.node, -1), state);
  return note(
    {
      ...next,
      observations: observations.filter((one) => !doubted.includes(one)),
      unplaced_mA: state.unplaced_mA + fall_mA,
      suspects: doubted.map((one) => one.node),
    },
    'doubt',
    `the draw fell by ${current(fall_mA)} after ${doubted.map((one) => nameOf(state, one.node)).join(' and ')}: not sure that nothing changed there`,
  );
}

/** A reading while something is asked for and nothing was said yet: a fall is that, a rise is the car waking. */
export function whileProposing(state: Session): Session {
  const { base_mA } = state;
  const level = lastLevel(state, NOTICE_s);
  if (level === null || base_mA === null) return state;
  const change_mA = level.mean_mA - base_mA;
  const limit_mA = Math.max(FLICKER_mA + 2, 0.02 * base_mA);
  if (change_mA > limit_mA + 3)
    return awaitLevel(note(state, 'woke', `the car draws ${current(change_mA)} more by itself`), base_mA);
  return change_mA < -limit_mA && level.still ? noticed(state, base_mA) : state;
}

/** A fall that nobody tapped: of what is asked for, of a tap just before, or of the car itself. */
function noticed(state: Session, before_mA: number): Session {
  const fall_mA = before_mA - lastLevel(state, NOTICE_s)!.mean_mA;
  const proposed = proposedTest(state);
  const late = lateTap(state, fall_mA);
  if (fall_mA < 0.4 * smallestSought_mA(state)) return fellByItself(state);
  if (late !== null) {
    const question = proposed === null ? 'was-it' : 'late-or-new';
    return ask(state, { question, node: late, other: proposed?.node ?? late, before_mA });
  }
  return proposed === null ? fellByItself(state) : measureFall(state, proposed, before_mA, false);
}

/** The node whose tap, a moment ago, brought much less than this fall. */
function lateTap(state: Session, fall_mA: number): number | null {
  const last = state.observations.findLast(isTest);
  if (last === undefined || !isOut(state, last.node)) return null;
  return state.now_s - last.t_s <= LATE_s && last.amount_mA < 0.5 * fall_mA ? last.node : null;
}

/** The last result came before the hand: it is measured again. */
export function redo(state: Session, node: number, before_mA: number): Session {
  const last = state.observations.filter(isTest).findLast((one) => one.node === node)!;
  const next = withoutOut(withoutSeen(state, last), node);
  const noted = noteOn(next, 'late', node, 'came out after the tap; measured again');
  return measureFall(noted, { kind: last.how, node }, before_mA, true);
}

/**
 * A reading while something is about to go in. The hand may be quicker than the tap: a rise shows a fuse that went in
 * without the bridge, or the bridge coming off.
 */
export function whileRefitting(state: Session, { node }: { node: number }): Session {
  const level = lastLevel(state, NOTICE_s);
  const rise_mA = Math.max(15, 0.5 * leftWith_mA(state, node));
  if (level === null || state.base_mA === null || level.mean_mA < state.base_mA + rise_mA) return state;
  const text = 'seems to be in again without the bridge; bridge first next time';
  return startSettling(noteOn(state, 'no-bridge', node, text), node);
}

/** It is in, and the bridge is off. */
export function startSettling(state: Session, node: number): Session {
  const target_mA = (state.base_mA ?? 0) + leftWith_mA(state, node);
  return go(state, { name: 'settling', node, since_s: state.now_s, target_mA });
}

/** A reading while the car settles after a refit. */
export function whileSettling(state: Session, phase: PhaseOf<'settling'>): Session {
  const { node, target_mA } = phase;
  const waited_s = state.now_s - phase.since_s;
  const level = stillLevel(state);
  if (level === null || waited_s < LOOK_s) return state;
  const { mean_mA } = level;
  if (near(mean_mA, target_mA)) return settled(state, phase, level);
  if (state.unplaced_mA > 0 && near(mean_mA, target_mA + state.unplaced_mA))
    return settled({ ...state, unplaced_mA: 0, suspects: [] }, phase, level);
  const amount_mA = leftWith_mA(state, node);
  if (amount_mA > 2 * FLICKER_mA && mean_mA < target_mA - 0.6 * amount_mA && waited_s > BACK_s)
    return ask(state, { question: 'back-in', node, other: null, before_mA: target_mA });
  if (waited_s <= SETTLE_s_MAX && !held(state, mean_mA < target_mA ? 60 : 4 * PATIENCE_s, mean_mA)) return state;
  const text = `after refitting ${nameOf(state, node)} the car settled at ${current(mean_mA)}, not at ${current(target_mA)}`;
  return settled(note(state, 'settled-elsewhere', text), phase, level);
}

function settled(before: Session, { node, since_s, target_mA }: PhaseOf<'settling'>, level: Level): Session {
  const waited_s = before.now_s - since_s;
  const rise_mA = level.mean_mA - (before.base_mA ?? 0);
  let state = withoutOut({ ...before, settled_s: [...before.settled_s, waited_s] }, node);
  if (state.repeat?.node === node) state = cameBack(state, node, rise_mA);
  state = noteOn(state, 'settled', node, `is in again; settled after ${waited_s.toFixed(0)} s`);
  const sigma_mA = Math.hypot(level.sigma_mA, FLICKER_mA / 2);
  state = observe({ ...state, base_mA: target_mA }, { node, amount_mA: rise_mA, sigma_mA, how: 'refit' });
  return rebase(state, level, false);
}

/** A draw that goes with a part and comes back with it is that part's. */
function cameBack(state: Session, node: number, rise_mA: number): Session {
  const fall = state.observations.find((one) => one.node === node && one.doubtful === true);
  if (fall === undefined || Math.abs(rise_mA - fall.amount_mA) > Math.max(FLICKER_mA, 0.25 * fall.amount_mA))
    return state;
  const observations = state.observations.map((one) => (one === fall ? { ...one, doubtful: false } : one));
  return { ...state, observations, repeat: null };
}

/** Something went in again, as somebody says. */
export function refitted(state: Session, node: number): Session {
  const { base_mA, phase, bridge } = state;
  if (!isOut(state, node)) return noteOn(state, 'in', node, 'was not out');
  if (base_mA === null || phase.name === 'finished') {
    const next = { ...state, base_mA: base_mA === null ? null : base_mA + Math.max(0, leftWith_mA(state, node)) };
    return noteOn(withoutOut(next, node), 'refitted', node, 'is back in');
  }
  return bridge === 'on' ? refit(state, 'bridge-off', node) : startSettling(state, node);
}
