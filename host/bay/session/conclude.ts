// What may be concluded from a session's results: which parts are named, whether that
// is enough, and what to do next. A part is named only where the board itself saw the
// draw fall by taking off that part, or the fuse that feeds nothing else, and everything
// else measured fits.

import { drawsOf } from '../search/belief.ts';
import type { Belief, Draw, Observation } from '../search/belief.ts';
import { oddsOf } from '../search/evidence.ts';
import { FLICKER_mA } from '../search/level.ts';
import { planMoves, testName } from '../search/planner.ts';
import type { Proposal } from '../search/planner.ts';
import type { Named, Outcome, SessionState } from './session-state.ts';
import { careOf } from '../tree/care.ts';
import { called, isBehind, partCount } from '../tree/tree.ts';
import type { FeedTree } from '../tree/tree.ts';

/** A part is named from this probability on. */
const NAME_AT = 0.985;
/** And from this share of what is too much on. */
const NAME_SHARE = 0.1;

export interface Conclusion {
  newlyNamed: Named[];
  /** Null: go on with `plan`. */
  outcome: Outcome | null;
  sentence: string;
  plan: Proposal[];
}

type Believe = (tree: FeedTree, observations: readonly Observation[], weights: Float64Array) => Belief;

/** Prior share of each part number: alike, but for evidence, and for fuses that could not carry the draw. */
export function weightsOf(tree: FeedTree, state: SessionState): Float64Array {
  const excess_mA = (state.observations[0]?.amount_mA ?? 0) / 3;
  return Float64Array.from(tree.parts, (id) => {
    const node = tree.nodes[id]!;
    const odds = oddsOf(state.evidence, (concerned) => isBehind(tree, id, concerned));
    return node.rating_A !== null && excess_mA > node.rating_A * 1000 ? odds / 50 : odds;
  });
}

/** The least draw that is still looked for. */
export function smallestSought_mA(tree: FeedTree, state: SessionState): number {
  const total = state.observations[0]?.amount_mA ?? 0;
  return Math.min(total - namedSum_mA(state), Math.max(2 * FLICKER_mA, state.options.allowance_mA / 2));
}

export const namedSum_mA = (state: SessionState): number => state.named.reduce((sum, one) => sum + one.amount_mA, 0);

export function conclude(tree: FeedTree, state: SessionState, believe: Believe): Conclusion {
  const weights = weightsOf(tree, state);
  const belief = believe(tree, state.observations, weights);
  for (const one of state.named) one.amount_mA = latestFall_mA(tree, state, one.node) ?? one.amount_mA;
  const newlyNamed = namesOf(tree, state, belief);
  const known = [...state.named, ...newlyNamed];
  const { allowance_mA } = state.options;
  const suspect = lastSuspect(state);
  if (suspect !== undefined) return { newlyNamed, outcome: null, sentence: '', plan: [suspect] };
  const rest_mA = restNow_mA(tree, state, known);
  if (known.length > 0 && rest_mA <= allowance_mA) {
    const what = known.map((one) => `${called(tree, one.node)} ${one.amount_mA.toFixed(0)} mA`).join(', ');
    const gone_mA = state.observations[0]!.amount_mA - known.reduce((sum, one) => sum + one.amount_mA, 0) - rest_mA;
    const within = `the rest, ${Math.max(0, rest_mA).toFixed(0)} mA, is within the allowance of ${allowance_mA} mA`;
    if (gone_mA <= allowance_mA) return { newlyNamed, outcome: 'found', plan: [], sentence: `${what}; ${within}` };
    return {
      newlyNamed,
      outcome: 'undecided',
      plan: [],
      sentence: `${what}; ${within}, but ${gone_mA.toFixed(0)} mA went away by themselves and are not explained: record another night`,
    };
  }
  const again = takenAgain(tree, state, known);
  if (again !== null) return { newlyNamed, outcome: null, sentence: '', plan: [again] };
  const draws = soughtDraws(tree, belief, weights, known);
  const plan = withRepeat(
    tree,
    state,
    planMoves({
      tree,
      draws,
      out: state.out.map((one) => one.node),
      costs: costsLearnt(state),
      step_mV: state.options.step_mV,
      done: new Map(Object.entries(state.done)),
    }),
  );
  if (plan.length > 0) return { newlyNamed, outcome: null, sentence: '', plan };
  // What is out may have taken less with it than was thought: back in, the level tells.
  const back = state.out
    .filter((one) => one.amount_mA > FLICKER_mA && !known.some((other) => isBehind(tree, other.node, one.node)))
    .sort((a, b) => b.amount_mA - a.amount_mA)[0];
  if (back !== undefined)
    return {
      newlyNamed,
      outcome: null,
      sentence: '',
      plan: [{ kind: 'refit', node: back.node, cost_s: 0, expected_s: 0, share: 0, amount_mA: back.amount_mA }],
    };
  return {
    newlyNamed,
    outcome: 'undecided',
    plan,
    sentence: `${rest_mA.toFixed(0)} mA are not accounted for, and nothing is left to try that would tell more${makersHint(tree, draws)}`,
  };
}

/** Something fell while nobody looked: what had just been taken out goes in again, to see whether it comes back. */
function lastSuspect(state: SessionState): Proposal | undefined {
  const { unplaced_mA, suspects, out, options } = state;
  if (unplaced_mA <= 2 * FLICKER_mA) return undefined;
  const node = [...suspects].reverse().find((id) => out.some((one) => one.node === id));
  const cost_s = options.costs.refit_s + options.costs.settle_s;
  return node === undefined
    ? undefined
    : { kind: 'refit', node, cost_s, expected_s: cost_s, share: 0, amount_mA: unplaced_mA };
}

/** A named part that went in again to see its draw come back goes out once more: only so can the rest be seen. */
function takenAgain(tree: FeedTree, state: SessionState, known: readonly Named[]): Proposal | null {
  const within = known.find((one) => !state.out.some((gone) => isBehind(tree, one.node, gone.node)));
  if (within === undefined) return null;
  const seen = state.observations.find(
    (one) =>
      (one.how === 'pull' || one.how === 'unplug') &&
      partCount(tree, one.node) === 1 &&
      isBehind(tree, within.node, one.node),
  );
  if (seen === undefined || careOf(tree, seen.node) !== 'free' || (state.done[testName(seen.how, seen.node)] ?? 0) > 2)
    return null;
  const { costs } = state.options;
  return {
    kind: seen.how === 'unplug' ? 'unplug' : 'pull',
    node: seen.node,
    cost_s: seen.how === 'unplug' ? costs.unplug_s : costs.pull_s,
    expected_s: 0,
    share: 1,
    amount_mA: within.amount_mA,
  };
}

/** Settling as this car has shown it, once it has. */
export function costsLearnt(state: SessionState): SessionState['options']['costs'] {
  const { costs } = state.options;
  if (state.settled_s.length === 0) return costs;
  const mean = state.settled_s.reduce((sum, value) => sum + value, 0) / state.settled_s.length;
  return { ...costs, settle_s: (costs.settle_s + mean * state.settled_s.length) / (1 + state.settled_s.length) };
}

/** Draws of which no part is named yet. */
export function soughtDraws(tree: FeedTree, belief: Belief, weights: Float64Array, named: readonly Named[]): Draw[] {
  const numbers = named.map((one) => tree.nodes[one.node]!.first);
  const open = drawsOf(belief, weights).filter((draw) => !numbers.some((part) => draw.parts[part]! > 0.5));
  if (open.length > 0) return open;
  // All that is explained is named and it does not suffice: whatever else may draw.
  const others = Float64Array.from(belief.parts, (value, part) => (numbers.includes(part) ? 0 : value));
  return others.some((value) => value > 1e-4) ? [{ amount_mA: 2 * FLICKER_mA, parts: others }] : [];
}

/** The surest of what was seen going and coming back with a part. */
function latestFall_mA(tree: FeedTree, state: SessionState, part: number): number | null {
  const falls = state.observations.filter(
    (one) =>
      ['pull', 'unplug', 'refit'].includes(one.how) &&
      partCount(tree, one.node) === 1 &&
      isBehind(tree, part, one.node) &&
      one.amount_mA > 2 * FLICKER_mA,
  );
  return falls.length === 0 ? null : falls.reduce((best, one) => (one.sigma_mA < best.sigma_mA ? one : best)).amount_mA;
}

/** What the car would draw now with everything back in and what is named gone. */
export function restNow_mA(tree: FeedTree, state: SessionState, known: readonly Named[]): number {
  const isKnown = (node: number) =>
    known.some((one) => one.node === node || (partCount(tree, node) === 1 && isBehind(tree, one.node, node)));
  const back_mA = state.out.reduce((sum, one) => sum + (isKnown(one.node) ? 0 : Math.max(0, one.amount_mA)), 0);
  const stillIn_mA = known.reduce(
    (sum, one) => sum + (state.out.some((gone) => isBehind(tree, one.node, gone.node)) ? 0 : one.amount_mA),
    0,
  );
  return (state.base_mA ?? 0) + back_mA - stillIn_mA;
}

function namesOf(tree: FeedTree, state: SessionState, belief: Belief): Named[] {
  const found: Named[] = [];
  const rest_mA = restNow_mA(tree, state, state.named);
  for (const one of state.observations) {
    if ((one.how !== 'pull' && one.how !== 'unplug') || partCount(tree, one.node) !== 1) continue;
    if (one.amount_mA - 2 * one.sigma_mA <= FLICKER_mA || one.doubtful === true) continue;
    // Something so small is not what keeps this car over its allowance.
    if (one.amount_mA < NAME_SHARE * (rest_mA - state.options.allowance_mA)) continue;
    const part = tree.nodes[one.node]!.first;
    const node = tree.parts[part]!;
    const probability = belief.parts[part]!;
    if (probability < NAME_AT || [...state.named, ...found].some((other) => other.node === node)) continue;
    found.push({ node, amount_mA: one.amount_mA, sigma_mA: one.sigma_mA, probability });
  }
  return found;
}

function withRepeat(tree: FeedTree, state: SessionState, plan: Proposal[]): Proposal[] {
  const { repeat } = state;
  if (repeat === null || careOf(tree, repeat.node) !== 'free') return plan;
  const again: Proposal = {
    kind: repeat.kind,
    node: repeat.node,
    cost_s: state.options.costs.pull_s,
    expected_s: plan[0]?.expected_s ?? state.options.costs.pull_s,
    share: 0,
    amount_mA: 0,
  };
  const blocker = state.out.find((one) => isBehind(tree, repeat.node, one.node));
  if (blocker !== undefined) return [{ ...again, kind: 'refit', node: blocker.node }, ...plan];
  state.repeat = null;
  return [again, ...plan];
}

/** Where the likeliest place is one that is never tested here. */
function makersHint(tree: FeedTree, draws: readonly Draw[]): string {
  const likely = draws.flatMap((draw) => {
    const part = draw.parts.indexOf(Math.max(...draw.parts));
    const node = tree.nodes[tree.parts[part]!]!;
    return careOf(tree, node.id) === 'free' ? [] : [`${node.name}${node.restricted ? '' : ', to be left alone'}`];
  });
  return likely.length === 0
    ? ''
    : `; the likeliest place is ${likely.join(' and ')}: go on there by the car maker's procedure only`;
}
