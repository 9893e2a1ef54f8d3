// What the technician says beside what is asked for: answers, circuits that are not to be
// touched, what cannot be done here, and what was wrong.

import { FLICKER_mA } from '../search/level.ts';
import { testName } from '../search/planner.ts';
import { unknownParts } from '../tree/care.ts';
import { isBehind } from '../tree/tree.ts';
import { doubtLast, redo } from './levels.ts';
import { nameOf, treeOf } from './marked-tree.ts';
import { TAP_WAIT_s, tookOutAsked } from './measuring.ts';
import { proposedTest } from './session-state.ts';
import type { PhaseOf, SessionState } from './session-state.ts';
import {
  awaitLevel,
  count,
  fellByItself,
  FIRST_LOOK_s,
  go,
  levelBefore,
  measureFall,
  note,
  refit,
  replan,
  withoutForbidden,
  withoutOut,
} from './steps.ts';

type Asking = PhaseOf<'asking'>;
type Yes = { yes: boolean };

/** Was it the one whose tap came just before? If not, the one that is asked for now is asked about. */
export function answerLateOrNew(state: SessionState, phase: Asking, { yes }: Yes): SessionState {
  const { node, other, before_mA } = phase;
  if (yes) return redo(state, node, before_mA);
  return go(state, { ...phase, question: 'was-it', node: other!, other: null });
}

/** Has it just been taken out? */
export function answerWasIt(state: SessionState, phase: Asking, { yes }: Yes): SessionState {
  const { node, other, since_s, before_mA } = phase;
  if (!yes) return fellByItself(state);
  if (other !== null) return redo(state, node, before_mA);
  return measureFall(state, proposedTest(state)?.kind ?? 'pull', node, before_mA, { since_s, tapped: true });
}

/** A tap right after the fall is for what is asked for now; long after it, the hand was not there when it fell. */
export function tapWhenAsked(before: SessionState, phase: Asking): SessionState {
  if (before.now_s - phase.since_s <= TAP_WAIT_s)
    return answerWasIt(before, { ...phase, node: phase.other ?? phase.node, other: null }, { yes: true });
  const state = note(before, 'fell', 'the draw fell before the tap');
  const level = levelBefore(state);
  if (proposedTest(state) === null || level === null || !level.still) return awaitLevel(state, null, 15);
  // The hand went on with what was asked for: that is measured, from the level of just before.
  const fall_mA = (state.base_mA ?? 0) - level.mean_mA;
  const doubted = fall_mA > 2 * FLICKER_mA ? doubtLast(state, fall_mA) : null;
  return tookOutAsked({ ...(doubted ?? state), base_mA: level.mean_mA });
}

/** Is it really in again? */
export function answerBackIn(state: SessionState, { node }: Asking, { yes }: Yes): SessionState {
  if (!yes) return refit(state, 'bridge-on', node);
  const text = `${nameOf(state, node)} is in again, but its draw did not come back: taking it out has reset something behind it`;
  return awaitLevel(withoutOut(note(state, 'vanished', text), node), null, FIRST_LOOK_s);
}

/** `yes`: it is a restraint or high-voltage circuit. Of several, each is asked about then. */
export function answerWhatFeeds(state: SessionState, phase: Asking, { yes }: Yes): SessionState {
  const { kind } = state.plan[0]!;
  const { node, other } = phase;
  const parts = other !== null ? [other] : kind === 'refit' ? [] : unknownParts(treeOf(state), kind, node);
  if (yes && parts.length > 1) return go(state, { ...phase, other: parts[0]! });
  const said = yes ? 'restricted' : 'cleared';
  const list = { ...state.list, [said]: [...state.list[said], ...parts] };
  const names = parts.map((part) => nameOf(state, part)).join(', ');
  const text = `${names}: ${yes ? 'a' : 'no'} restraint or high-voltage circuit`;
  return replan(note(withoutForbidden({ ...state, list }), 'feeds', text));
}

/** A fuse or part is to be left alone, or no longer. */
export function mark(state: SessionState, node: number, alone: boolean): SessionState {
  const list = { ...state.list, alone: { ...state.list.alone, [node]: alone } };
  const text = `${nameOf(state, node)} is ${alone ? 'left alone' : 'no longer left alone'}`;
  return note(withoutForbidden({ ...state, list }), 'alone', text);
}

/** What is proposed, or asked about before it is, cannot be done here. */
export function skip(state: SessionState): SessionState {
  const next = state.plan[0];
  if (next === undefined) return state;
  const { kind, node } = next;
  const done = kind === 'refit' ? state.done : { ...state.done, [testName(kind, node)]: 99 };
  return replan(note({ ...state, done }, 'skipped', `not here: ${nameOf(state, node)}`));
}

/** "That was wrong": the last result is taken back. Levels were measured, not done, and stay. */
export function takeBack(before: SessionState): SessionState {
  const last = before.observations.findLast(({ how }) => how !== 'total' && how !== 'level');
  if (last === undefined) return note(before, 'wrong', 'there is nothing to take back');
  const { how, node, amount_mA } = last;
  const tree = treeOf(before);
  const state = note(
    count(
      {
        ...before,
        observations: before.observations.filter((one) => one !== last),
        repeat: null,
        named: before.named.filter((one) => !isBehind(tree, one.node, node)),
      },
      how,
      node,
      -1,
    ),
    'wrong',
    `taken back: ${nameOf(before, node)}`,
  );
  if (how === 'drop' && state.phase.name === 'proposing') return replan(state);
  const next = withoutOut(state, node);
  return awaitLevel(how === 'refit' ? { ...next, out: [...next.out, { node, amount_mA }] } : next, null, FIRST_LOOK_s);
}
