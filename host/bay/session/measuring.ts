// One result: a fuse or a part came out, or a drop was read. The change is measured with
// its doubt against the 10 mA that mean nothing; what is not sure is watched longer or
// asked for again.

import { FLICKER_mA } from '../search/level.ts';
import type { Level } from '../search/level.ts';
import { testName } from '../search/planner.ts';
import { currentFromDrop, SOURCE_WORDS } from '../tree/fuses.ts';
import { partCount } from '../tree/tree.ts';
import { smallestSought_mA } from './conclude.ts';
import { nameOf, treeOf } from './marked-tree.ts';
import { proposedTest } from './session-state.ts';
import type { PhaseOf, SessionState } from './session-state.ts';
import {
  ask,
  awaitLevel,
  count,
  FIRST_LOOK_s,
  fits,
  go,
  isDark,
  isOut,
  lastLevel,
  levelBefore,
  LOOK_s,
  near,
  note,
  observe,
  PATIENCE_s,
  propose,
  replan,
} from './steps.ts';

/** Contacts and inrush after a pull are over then. */
const BOUNCE_s = 2;
/** A measurement that is not sure goes on for this long. */
const LOOK_s_MAX = 30;
/** A fall that was noticed is asked about if no tap follows. */
export const TAP_WAIT_s = 15;
/** A fall smaller than expected is watched for this long: it may grow. */
const LESS_s = 75;

type Measuring = PhaseOf<'measuring'>;

/** What a change says against the flicker. */
export type Says = 'draws' | 'nothing' | 'not sure';

export function saysOf(change_mA: number, sigma_mA: number): Says {
  if (change_mA - 2 * sigma_mA > FLICKER_mA) return 'draws';
  return change_mA + 2 * sigma_mA < FLICKER_mA + 2 ? 'nothing' : 'not sure';
}

/** A reading while something that came out is measured. */
export function whileMeasuring(state: SessionState, phase: Measuring): SessionState {
  const looked_s = state.now_s - phase.at_s - BOUNCE_s;
  if (looked_s < LOOK_s) return state;
  const level = lastLevel(state, looked_s > 2 * LOOK_s ? 2 * LOOK_s : LOOK_s);
  if (level === null) return state;
  const change_mA = phase.before_mA - level.mean_mA;
  const sigma_mA = Math.hypot(phase.beforeSigma_mA, level.sigma_mA);
  if (!level.still || change_mA < -(FLICKER_mA + 2))
    return looked_s > PATIENCE_s ? giveUpMeasuring(state, phase, level) : state;
  const says = saysOf(change_mA, sigma_mA);
  if (says === 'not sure' && looked_s < LOOK_s_MAX) return state;
  // Less than what is looked for here: taking it out may have woken the car for a while.
  const next = state.plan[0];
  const expected_mA = next?.node === phase.node && next.share >= (says === 'nothing' ? 0.5 : 0.1) ? next.amount_mA : 0;
  const less = expected_mA - change_mA > Math.max(1.5 * FLICKER_mA, 0.2 * change_mA);
  if (less && says !== 'not sure' && looked_s < LESS_s) return state;
  if (phase.tapped) return measured(state, phase, change_mA, sigma_mA, level);
  if (says !== 'draws') return propose(state);
  if (!justDisturbed(state) && fits(state, phase.node, change_mA, 0.25))
    return measured(state, phase, change_mA, sigma_mA, level);
  // The tap may be under way.
  if (looked_s < TAP_WAIT_s) return state;
  return ask(state, { question: 'was-it', node: phase.node, other: null, before_mA: phase.before_mA });
}

/** Taking off a draw can wake a car for a minute or more; when that ends, the draw falls again. */
const justDisturbed = ({ observations, now_s }: SessionState): boolean =>
  observations.some(
    ({ how, amount_mA, t_s }) =>
      (how === 'pull' || how === 'unplug') && amount_mA > 2 * FLICKER_mA && now_s - t_s < PATIENCE_s,
  );

const kindOf = ({ what }: Measuring) => (what === 'pulled' ? 'pull' : 'unplug');

/** It is out, and the car draws that now. */
const nowOut = (state: SessionState, node: number, amount_mA: number, base_mA: number): SessionState => ({
  ...state,
  out: [...state.out, { node, amount_mA }],
  base_mA,
});

function giveUpMeasuring(state: SessionState, phase: Measuring, level: Level): SessionState {
  const { node } = phase;
  const text = `no still level after ${nameOf(state, node)} came out; nothing can be told from it`;
  const next = count(note(state, 'restless', text), kindOf(phase), node);
  return awaitLevel(nowOut(next, node, 0, level.mean_mA), null, FIRST_LOOK_s);
}

function measured(
  before: SessionState,
  phase: Measuring,
  change_mA: number,
  sigma_mA: number,
  level: Level,
): SessionState {
  const { node } = phase;
  const kind = kindOf(phase);
  const times = before.done[testName(kind, node)] ?? 0;
  const doubtful = change_mA > 2 * FLICKER_mA && !fits(before, node, change_mA, 0);
  let state = observe(count(before, kind, node), {
    node,
    amount_mA: change_mA,
    sigma_mA,
    how: kind,
    ...(doubtful && { doubtful }),
  });
  state = nowOut(state, node, change_mA, level.mean_mA);
  state = note(state, 'result', `${nameOf(state, node)} ${phase.what}: ${inWords(change_mA, sigma_mA)}`);
  const unsure = saysOf(change_mA, sigma_mA) === 'not sure';
  // Worth another go only where it could be what is looked for.
  if (doubtful && partCount(treeOf(state), node) === 1 && times < 2)
    state = note(
      { ...state, repeat: { kind, node } },
      'doubtful',
      `not the fall that was looked for, the car may have done it by itself: ${nameOf(state, node)} goes in again, to see the draw come back`,
    );
  else if (unsure && times === 0 && change_mA + 2 * sigma_mA > 0.5 * smallestSought_mA(state))
    state = { ...state, repeat: { kind, node } };
  return replan(state);
}

function inWords(change_mA: number, sigma_mA: number): string {
  const size = `${Math.abs(change_mA).toFixed(0)} mA (give or take ${Math.max(1, 2 * sigma_mA).toFixed(0)})`;
  return {
    draws: `the draw fell by ${size}`,
    nothing: 'nothing changed',
    'not sure': `not sure: ${size}, and 10 mA mean nothing`,
  }[saysOf(change_mA, sigma_mA)];
}

/** What is asked for now came out, as a tap says. */
export function tookOutAsked(state: SessionState): SessionState {
  const next = proposedTest(state);
  return next === null ? state : tookOut(state, next.kind === 'pull' ? 'pulled' : 'unplugged', next.node);
}

/** A fuse or a part came out, as somebody says: it is measured from now on. */
export function tookOut(state: SessionState, what: 'pulled' | 'unplugged', node: number): SessionState {
  const { phase, base_mA } = state;
  if (phase.name === 'measuring' && phase.node === node) return state;
  if (base_mA === null || phase.name === 'finished') return outUnmeasured(state, node);
  if (isDark(state, node))
    return note(state, 'dark', `${nameOf(state, node)} has no feed now: nothing can be told from it`);
  const before = levelBefore(state);
  const good = before !== null && before.still && near(before.mean_mA, base_mA);
  return go(state, {
    name: 'measuring',
    what,
    node,
    at_s: state.now_s,
    tapped: true,
    before_mA: good ? before.mean_mA : base_mA,
    beforeSigma_mA: good ? before.sigma_mA : FLICKER_mA / 2,
  });
}

/** Nothing can be told from it, but it must not be forgotten outside. */
function outUnmeasured(state: SessionState, node: number): SessionState {
  if (isOut(state, node)) return state;
  const text = `${nameOf(state, node)} is out; the draw was not being measured, so nothing can be told from it`;
  return note({ ...state, out: [...state.out, { node, amount_mA: 0 }] }, 'out', text);
}

/** The search ends while something that came out was being measured. */
export const leftMeasuring = (state: SessionState, { tapped, node }: Measuring): SessionState =>
  tapped ? outUnmeasured(state, node) : state;

/**
 * A voltage was read across a fuse, in mV.
 * @throws RangeError in words where no fuse in place can have it
 */
export function readDrop(state: SessionState, node: number, drop_mV: number): SessionState {
  const { type, rating_A } = treeOf(state).nodes[node]!;
  const name = nameOf(state, node);
  const reading = currentFromDrop(type, rating_A, drop_mV, state.options.step_mV ?? 0.1);
  if (reading === null) return note(state, 'drop', `no resistance is known for ${name}; its drop tells nothing`);
  const counted = count(state, 'drop', node);
  if (isDark(state, node)) return note(counted, 'dark', `${name} has no feed now: a drop across it tells nothing`);
  const { current_mA, sigma_mA, low_mA, high_mA, source } = reading;
  const next = note(
    observe(counted, { node, amount_mA: current_mA, sigma_mA, how: 'drop', drop_mV }),
    'drop',
    `${name}: ${drop_mV} mV is ${current_mA.toFixed(0)} mA (${low_mA.toFixed(0)} to ${high_mA.toFixed(0)}), resistance ${SOURCE_WORDS[source]}`,
  );
  return state.phase.name === 'proposing' ? replan(next) : next;
}
