// A fuse or a part goes in again: under the bridge, then the wait until the car draws
// what it did before, and what the way back says about what was taken out.

import { FLICKER_mA } from '../search/level.ts';
import type { Level } from '../search/level.ts';
import { rebase } from './levels.ts';
import { nameOf } from './marked-tree.ts';
import type { PhaseOf, SessionState } from './session-state.ts';
import {
  ask,
  go,
  held,
  isOut,
  lastLevel,
  leftWith_mA,
  LOOK_s,
  near,
  note,
  NOTICE_s,
  observe,
  PATIENCE_s,
  refit,
  withoutOut,
} from './steps.ts';

/** The longest that a car takes to sleep again (common practice: 15 to 30 min). */
export const SETTLE_s_MAX = 1800;
/** A refit whose draw stays away this long is asked about. */
const BACK_s = 20;

/**
 * A reading while something is about to go in. The hand may be quicker than the tap: a rise shows a fuse that went in
 * without the bridge, or the bridge coming off.
 */
export function whileRefitting(state: SessionState, { node }: { node: number }): SessionState {
  const level = lastLevel(state, NOTICE_s);
  const rise_mA = Math.max(15, 0.5 * leftWith_mA(state, node));
  if (level === null || state.base_mA === null || level.mean_mA < state.base_mA + rise_mA) return state;
  const text = `${nameOf(state, node)} seems to be in again without the bridge; bridge first next time`;
  return startSettling(note(state, 'no-bridge', text), node);
}

/** It is in, and the bridge is off. */
export function startSettling(state: SessionState, node: number): SessionState {
  const target_mA = (state.base_mA ?? 0) + leftWith_mA(state, node);
  return go(state, { name: 'settling', node, since_s: state.now_s, target_mA });
}

/** A reading while the car settles after a refit. */
export function whileSettling(state: SessionState, phase: PhaseOf<'settling'>): SessionState {
  const { node, target_mA } = phase;
  const waited_s = state.now_s - phase.since_s;
  const level = lastLevel(state, LOOK_s);
  if (level === null || waited_s < LOOK_s || level.length_s < LOOK_s || !level.still) return state;
  const { mean_mA } = level;
  if (near(mean_mA, target_mA)) return settled(state, phase, level);
  if (state.unplaced_mA > 0 && near(mean_mA, target_mA + state.unplaced_mA))
    return settled({ ...state, unplaced_mA: 0, suspects: [] }, phase, level);
  const amount_mA = leftWith_mA(state, node);
  if (amount_mA > 2 * FLICKER_mA && mean_mA < target_mA - 0.6 * amount_mA && waited_s > BACK_s)
    return ask(state, { question: 'back-in', node, other: null, before_mA: target_mA });
  if (waited_s <= SETTLE_s_MAX && !held(state, mean_mA < target_mA ? 60 : 4 * PATIENCE_s, mean_mA)) return state;
  const text = `after refitting ${nameOf(state, node)} the car settled at ${mean_mA.toFixed(0)} mA, not at ${target_mA.toFixed(0)}`;
  return settled(note(state, 'settled-elsewhere', text), phase, level);
}

function settled(before: SessionState, { node, since_s, target_mA }: PhaseOf<'settling'>, level: Level): SessionState {
  const waited_s = before.now_s - since_s;
  const rise_mA = level.mean_mA - (before.base_mA ?? 0);
  let state = withoutOut({ ...before, settled_s: [...before.settled_s, waited_s] }, node);
  if (state.repeat?.node === node) state = cameBack(state, node, rise_mA);
  state = note(state, 'settled', `${nameOf(state, node)} is in again; settled after ${waited_s.toFixed(0)} s`);
  const sigma_mA = Math.hypot(level.sigma_mA, FLICKER_mA / 2);
  state = observe({ ...state, base_mA: target_mA }, { node, amount_mA: rise_mA, sigma_mA, how: 'refit' });
  return rebase(state, level, false);
}

/** A draw that goes with a part and comes back with it is that part's. */
function cameBack(state: SessionState, node: number, rise_mA: number): SessionState {
  const fall = state.observations.find((one) => one.node === node && one.doubtful === true);
  if (fall === undefined || Math.abs(rise_mA - fall.amount_mA) > Math.max(FLICKER_mA, 0.25 * fall.amount_mA))
    return state;
  const observations = state.observations.map((one) => (one === fall ? { ...one, doubtful: false } : one));
  return { ...state, observations, repeat: null };
}

/** Something went in again, as somebody says. */
export function refitted(state: SessionState, node: number): SessionState {
  const { base_mA, phase, bridge } = state;
  const name = nameOf(state, node);
  if (!isOut(state, node)) return note(state, 'in', `${name} was not out`);
  if (base_mA === null || phase.name === 'finished') {
    const next = { ...state, base_mA: base_mA === null ? null : base_mA + Math.max(0, leftWith_mA(state, node)) };
    return note(withoutOut(next, node), 'refitted', `${name} is back in`);
  }
  return bridge === 'on' ? refit(state, 'bridge-off', node) : startSettling(state, node);
}
