// What every phase of a pull session leans on: the level now, notes, what is counted and
// observed, and the step from a new result to the next proposal. Pure: each takes a state
// and gives the next.

import { current } from '../../say/quantities.ts';
import type { Observation } from '../search/belief.ts';
import { FLICKER_mA, levelBetween } from '../search/level.ts';
import type { Level } from '../search/level.ts';
import { testName } from '../search/planner.ts';
import { careOf, unknownParts } from '../tree/care.ts';
import { isBehind } from '../tree/tree.ts';
import { conclude } from './conclude.ts';
import { hasTotal, nameOf, timesDone, treeOf } from './session-state.ts';
import type { Outcome, Phase, PhaseOf, Session, TestKind } from './session-state.ts';

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

export const note = (state: Session, code: string, text: string): Session => ({
  ...state,
  log: [...state.log, { t_s: state.now_s, code, text }],
});

/** A note on a fuse or part: its name, then the text. */
export const noteOn = (state: Session, code: string, node: number, text: string) =>
  note(state, code, `${nameOf(state, node)} ${text}`);

export const go = (state: Session, phase: Phase): Session => ({ ...state, phase });

/** On to one of the three steps of putting `node` in again. */
export const refit = (state: Session, name: 'bridge-on' | 'refitting' | 'bridge-off', node: number) =>
  go(state, { name, node, since_s: state.now_s });

/** Waits for a still level: the one given, else whatever holds for long enough. */
export const awaitLevel = (
  state: Session,
  target_mA: number | null = null,
  patience_s = target_mA === null ? FIRST_LOOK_s : PATIENCE_s,
): Session => go(state, { name: 'levelling', since_s: state.now_s, target_mA, patience_s });

export const ask = (state: Session, question: Omit<PhaseOf<'asking'>, 'name' | 'since_s'>) =>
  go(state, { name: 'asking', since_s: state.now_s, ...question });

/** A fall that was noticed is measured from when it came. */
export const measureFall = (
  state: Session,
  { kind, node }: { kind: TestKind; node: number },
  before_mA: number,
  tapped: boolean,
  noticed_s = state.now_s,
): Session =>
  go(state, {
    name: 'measuring',
    kind,
    node,
    at_s: noticed_s - NOTICE_s,
    tapped,
    before_mA,
    beforeSigma_mA: FLICKER_mA / 4,
  });

/** The draw changed by itself: wherever it holds still now. */
export const fellByItself = (state: Session) => awaitLevel(note(state, 'fell', 'the draw fell by itself'), null, 15);

export const lastLevel = (state: Session, length_s: number): Level | null =>
  levelBetween(state.memory, state.now_s - length_s - 0.5, state.now_s);

/** The level of just now, if it holds still and was measured for long enough. */
export function stillLevel(state: Session): Level | null {
  const level = lastLevel(state, LOOK_s);
  return level !== null && level.length_s >= LOOK_s && level.still ? level : null;
}

/** The level of just before a hand moved. */
export const levelBefore = (state: Session): Level | null =>
  levelBetween(state.memory, state.now_s - LOOK_s - 1.5, state.now_s - 1);

export const near = (level_mA: number, target_mA: number) =>
  Math.abs(level_mA - target_mA) <= Math.max(FLICKER_mA + 2, 0.03 * Math.abs(target_mA));

/** Whether the draw has been within the flicker of a level for so long. */
export function held(state: Session, length_s: number, level_mA: number): boolean {
  const { now_s, phase, memory } = state;
  const seen_s = Math.min(length_s, 120);
  if (now_s - Math.max(0, memory.blocks[0]?.t_s ?? now_s) < seen_s) return false;
  if ('since_s' in phase && now_s - phase.since_s < length_s) return false;
  const long = lastLevel(state, seen_s);
  return long !== null && long.still && near(long.mean_mA, level_mA);
}

/** Whether a fall is what is looked for at that node. */
export function fits({ plan: [next] }: Session, node: number, fall_mA: number, share_min: number): boolean {
  return (
    next?.node === node &&
    next.share >= share_min &&
    Math.abs(next.amount_mA - fall_mA) <= Math.max(FLICKER_mA, 0.15 * next.amount_mA)
  );
}

export const isOut = (state: Session, node: number) => state.out.some((one) => one.node === node);

export const putOut = (state: Session, node: number, amount_mA: number): Session => ({
  ...state,
  out: [...state.out, { node, amount_mA }],
});

export const withoutOut = (state: Session, node: number): Session => ({
  ...state,
  out: state.out.filter((one) => one.node !== node),
});

/** What left with a node that is out, mA. */
export const leftWith_mA = (state: Session, node: number) => state.out.find((one) => one.node === node)?.amount_mA ?? 0;

export const withoutSeen = (state: Session, seen: Observation): Session => ({
  ...state,
  observations: state.observations.filter((one) => one !== seen),
});

/** Counts a test once more, or with -1 once less. */
export function count(state: Session, kind: string, node: number, by = 1): Session {
  const times = Math.max(0, timesDone(state, kind, node) + by);
  return { ...state, done: { ...state.done, [testName(kind, node)]: times } };
}

/**
 * Adds an observation of now. Not in it is what is out behind its node and took something with it: what took nothing
 * draws nothing, or is not out at all (a wrong tap), so it may as well be counted in.
 */
export function observe(state: Session, seen: Omit<Observation, 'without' | 't_s'>): Session {
  const tree = treeOf(state);
  const without = state.out
    .filter((one) => one.amount_mA > FLICKER_mA + 2 && (seen.node < 0 || isBehind(tree, one.node, seen.node)))
    .map((one) => one.node);
  const one = { ...seen, without, t_s: state.now_s };
  const { observations } = state;
  return { ...state, observations: seen.how === 'total' ? [one, ...observations] : [...observations, one] };
}

/** The car's level as it is now: the first of all, or one after it. */
export const observeLevel = (state: Session, { mean_mA, sigma_mA }: Level) =>
  observe(state, { node: -1, amount_mA: mean_mA, sigma_mA, how: hasTotal(state) ? 'level' : 'total' });

export const finish = (state: Session, outcome: Outcome, text: string) =>
  go(note(state, outcome, text), { name: 'finished', outcome });

/** After each result: what is believed now, whether that is enough, and what to do next. Some milliseconds. */
export function replan(before: Session): Session {
  if (before.phase.name === 'finished' || before.base_mA === null) return before;
  const { named, repeat, plan, end } = conclude(before);
  let state: Session = { ...before, named, repeat };
  for (const { node, amount_mA } of named.slice(before.named.length))
    state = noteOn(state, 'named', node, `draws ${current(amount_mA)}`);
  if (end?.outcome === 'undecided' && !state.lastLook) {
    state = note(state, 'last-look', 'nothing is left to try; the car is watched a while longer');
    return awaitLevel({ ...state, lastLook: true }, null, LAST_LOOK_s);
  }
  if (end !== null) return finish(state, end.outcome, end.sentence);
  state = { ...state, plan };
  return plan[0]!.kind === 'refit' ? refit(state, 'bridge-on', plan[0]!.node) : propose(state);
}

/** Proposes the first move of the plan; where the list does not say what it touches, that is asked first. */
export function propose(state: Session): Session {
  const next = state.plan[0];
  const unknown = next === undefined || next.kind === 'refit' ? [] : unknownParts(treeOf(state), next.kind, next.node);
  if (unknown.length === 0) return go(state, { name: 'proposing', since_s: state.now_s });
  return ask(state, { question: 'what-feeds', node: next!.node, other: null, before_mA: state.base_mA ?? 0 });
}

/** What was planned before a fuse was marked, or before the program knew its name, is planned no more. */
export function withoutForbidden(state: Session): Session {
  const { plan, repeat } = state;
  const tree = treeOf(state);
  const may = ({ kind, node }: { kind: string; node: number }) => {
    const care = careOf(tree, node);
    return kind === 'refit' || care === 'free' || (kind === 'drop' && care === 'measure only');
  };
  return { ...state, plan: plan.filter(may), repeat: repeat !== null && may(repeat) ? repeat : null };
}
