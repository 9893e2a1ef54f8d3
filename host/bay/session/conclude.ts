// What may be concluded from a session's results: which parts are named, whether that
// is enough, and what to do next. A part is named only where the board itself saw the
// draw fall by taking off that part, or the fuse that feeds nothing else, and everything
// else measured fits.

import { current } from '../../say/quantities.ts';
import { believe, drawsOf } from '../search/belief.ts';
import type { Belief, Draw } from '../search/belief.ts';
import { oddsOf } from '../search/evidence.ts';
import type { Evidence } from '../search/evidence.ts';
import { FLICKER_mA } from '../search/level.ts';
import { DEFAULT_COSTS } from '../search/moves.ts';
import type { Costs } from '../search/moves.ts';
import { planMoves } from '../search/planner.ts';
import type { Proposal } from '../search/planner.ts';
import { isDark, isTest, nameOf, timesDone, treeOf } from './session-state.ts';
import type { Named, Outcome, Session } from './session-state.ts';
import { careOf } from '../tree/care.ts';
import { isBehind, partCount } from '../tree/tree.ts';
import type { FeedTree } from '../tree/tree.ts';

const USUAL_s = DEFAULT_COSTS.settle_s;
/** A part is named from this probability on. */
const NAME_AT = 0.985;
/** And from this share of what is too much on. */
const NAME_SHARE = 0.1;

export interface Conclusion {
  /** All that are named: those of before, with what is known of them now, and then the new ones. */
  named: readonly Named[];
  repeat: Session['repeat'];
  /** What to do next, best first; not empty where it is not the end. */
  plan: Proposal[];
  /** Null: go on with `plan`. */
  end: { outcome: Outcome; sentence: string } | null;
}

/**
 * Prior share of each part number: alike, but for evidence, and for fuses that could not carry the draw.
 * @param total_mA the car's draw, 0 where it is not known
 */
export function weightsOf(tree: FeedTree, evidence: readonly Evidence[], total_mA: number): Float64Array {
  return Float64Array.from(tree.parts, (id) => {
    const { rating_A } = tree.nodes[id]!;
    const odds = oddsOf(evidence, (concerned) => isBehind(tree, id, concerned));
    return rating_A !== null && total_mA / 3 > rating_A * 1000 ? odds / 50 : odds;
  });
}

/** The first level of all; 0 before it. */
const first_mA = ({ observations }: Session) => observations[0]?.amount_mA ?? 0;

interface Believed {
  evidence: Session['evidence'];
  belief: Belief;
  weights: Float64Array;
  /** Draws that are looked for beside those named. */
  sought: WeakMap<readonly Named[], Draw[]>;
}

const known = new WeakMap<Session['observations'], Believed>();

/** What is believed after all that was seen. Some milliseconds, once for the same observations and evidence. */
function beliefOf(state: Session): Believed {
  const { observations, evidence } = state;
  const before = known.get(observations);
  if (before?.evidence === evidence) return before;
  const weights = weightsOf(treeOf(state), evidence, first_mA(state));
  const belief = believe(treeOf(state), observations, weights);
  const now = { evidence, weights, belief, sought: new WeakMap<readonly Named[], Draw[]>() };
  known.set(observations, now);
  return now;
}

export const namedSum_mA = (named: readonly Named[]) => named.reduce((sum, one) => sum + one.amount_mA, 0);

/** The least draw that is still looked for. */
export function smallestSought_mA(state: Session): number {
  const least_mA = Math.max(2 * FLICKER_mA, state.options.allowance_mA / 2);
  return Math.min(first_mA(state) - namedSum_mA(state.named), least_mA);
}

/** What may be concluded from all results so far. Some milliseconds: a belief and a plan. */
export function conclude(state: Session): Conclusion {
  const tree = treeOf(state);
  const { repeat } = state;
  const before = state.named.map((one) => ({
    ...one,
    amount_mA: latestFall_mA(tree, state, one.node) ?? one.amount_mA,
  }));
  const named = [...before, ...namesOf(state, before)];
  const goOn = (next: Proposal): Conclusion => ({ named, repeat, plan: [next], end: null });
  const suspect = lastSuspect(state);
  if (suspect !== undefined) return goOn(suspect);
  const rest_mA = restNow_mA(state, named);
  if (named.length > 0 && rest_mA <= state.options.allowance_mA)
    return { named, repeat, plan: [], end: withinAllowance(state, named, rest_mA) };
  const again = takenAgain(state, named);
  if (again !== undefined) return goOn(again);
  const draws = soughtDraws(state, named);
  const moves = planMoves({
    tree,
    draws,
    out: state.out.map((one) => one.node),
    costs: costsLearnt(state),
    at: handAt(state),
    step_mV: state.options.step_mV,
    done: new Map(Object.entries(state.done)),
  });
  const next = withRepeat(state, moves);
  if (next.plan.length > 0) return { named, ...next, end: null };
  // What is out may have taken less with it than was thought: back in, the level tells.
  const back = state.out
    .filter((one) => one.amount_mA > FLICKER_mA && !named.some((other) => isBehind(tree, other.node, one.node)))
    .sort((a, b) => b.amount_mA - a.amount_mA)[0];
  if (back !== undefined) return goOn(move('refit', back.node, back.amount_mA));
  const sentence = `${current(rest_mA)} are not accounted for, and nothing is left to try that would tell more${makersHint(tree, draws)}`;
  return { named, repeat, plan: [], end: { outcome: 'undecided', sentence } };
}

/** The end where what is left is within the allowance: found, unless much went away unseen. */
function withinAllowance(state: Session, named: readonly Named[], rest_mA: number): Conclusion['end'] {
  const { allowance_mA } = state.options;
  const what = named.map((one) => `${nameOf(state, one.node)} ${current(one.amount_mA)}`).join(', ');
  const gone_mA = first_mA(state) - namedSum_mA(named) - rest_mA;
  const sentence = `${what}; the rest, ${current(Math.max(0, rest_mA))}, is within the allowance of ${allowance_mA} mA`;
  return gone_mA <= allowance_mA
    ? { outcome: 'found', sentence }
    : {
        outcome: 'undecided',
        sentence: `${sentence}, but ${current(gone_mA)} fell away by itself and is not explained: record another night`,
      };
}

const move = (kind: Proposal['kind'], node: number, amount_mA: number, share = 0, expected_s = 0): Proposal => ({
  kind,
  node,
  expected_s,
  share,
  amount_mA,
});

/** Something fell while nobody looked: what had just been taken out goes in again, to see whether it comes back. */
function lastSuspect(state: Session): Proposal | undefined {
  const { unplaced_mA, suspects, out } = state;
  const node = suspects.findLast((id) => out.some((one) => one.node === id));
  return unplaced_mA > 2 * FLICKER_mA && node !== undefined
    ? move('refit', node, unplaced_mA, 0, DEFAULT_COSTS.refit_s + USUAL_s)
    : undefined;
}

/** A named part that went in again to see its draw come back goes out once more: only so can the rest be seen. */
function takenAgain(state: Session, named: readonly Named[]): Proposal | undefined {
  const tree = treeOf(state);
  const within = named.find((one) => !isDark(state, one.node));
  const seen = state.observations
    .filter(isTest)
    .find(({ node }) => within !== undefined && partCount(tree, node) === 1 && isBehind(tree, within.node, node));
  if (seen === undefined || careOf(tree, seen.node) !== 'free' || timesDone(state, seen.how, seen.node) > 2)
    return undefined;
  return move(seen.how, seen.node, within!.amount_mA, 1);
}

/** The box of the fuse that was read, pulled or put back last; null where that is not known, as after a stop. */
function handAt(state: Session): string | null {
  const last = state.observations.findLast(
    ({ how, node, t_s }) => node >= 0 && t_s >= 0 && treeOf(state).nodes[node]!.kind !== 'part' && how !== 'unplug',
  );
  return last === undefined ? null : treeOf(state).nodes[last.node]!.box;
}

/** How long this car takes to settle, as it has shown so far; as is usual before the first refit. */
export const settles_s = ({ settled_s }: Session) =>
  settled_s.length === 0 ? USUAL_s : settled_s.reduce((sum, value) => sum + value, 0) / settled_s.length;

/** Costs with settling as this car has shown it, once it has. */
function costsLearnt(state: Session): Costs {
  const times = state.settled_s.length;
  return { ...DEFAULT_COSTS, settle_s: (USUAL_s + settles_s(state) * times) / (1 + times) };
}

/** Draws of which no part is named yet; the same ones, and at once, where they are asked for again. */
export function soughtDraws(state: Session, named: readonly Named[]): Draw[] {
  const believed = beliefOf(state);
  const before = believed.sought.get(named);
  if (before !== undefined) return before;
  const draws = drawsBeside(state, named, believed);
  believed.sought.set(named, draws);
  return draws;
}

function drawsBeside(state: Session, named: readonly Named[], { belief, weights }: Believed): Draw[] {
  const numbers = named.map((one) => treeOf(state).nodes[one.node]!.first);
  const open = drawsOf(belief, weights).filter((draw) => !numbers.some((part) => draw.parts[part]! > 0.5));
  if (open.length > 0) return open;
  // All that is explained is named and it does not suffice: whatever else may draw.
  const others = belief.parts.map((value, part) => (numbers.includes(part) ? 0 : value));
  return others.some((value) => value > 1e-4) ? [{ amount_mA: 2 * FLICKER_mA, parts: others }] : [];
}

/** The surest of what was seen going and coming back with a part. */
function latestFall_mA(tree: FeedTree, state: Session, part: number): number | undefined {
  const falls = state.observations.filter(
    (one) =>
      (isTest(one) || one.how === 'refit') &&
      partCount(tree, one.node) === 1 &&
      isBehind(tree, part, one.node) &&
      one.amount_mA > 2 * FLICKER_mA,
  );
  return falls.sort((a, b) => a.sigma_mA - b.sigma_mA)[0]?.amount_mA;
}

/** What the car would draw now with everything back in and what is named gone. */
export function restNow_mA(state: Session, named: readonly Named[]): number {
  const tree = treeOf(state);
  const isNamed = (node: number) =>
    named.some((one) => one.node === node || (partCount(tree, node) === 1 && isBehind(tree, one.node, node)));
  const back_mA = state.out.reduce((sum, one) => sum + (isNamed(one.node) ? 0 : Math.max(0, one.amount_mA)), 0);
  const within = named.filter((one) => !isDark(state, one.node));
  return (state.base_mA ?? 0) + back_mA - namedSum_mA(within);
}

/** Those that can be named beside those `before`. */
function namesOf(state: Session, before: readonly Named[]): Named[] {
  const tree = treeOf(state);
  const { parts } = beliefOf(state).belief;
  const found: Named[] = [];
  const rest_mA = restNow_mA(state, before);
  for (const { node, amount_mA, sigma_mA, doubtful } of state.observations.filter(isTest)) {
    if (partCount(tree, node) !== 1 || amount_mA - 2 * sigma_mA <= FLICKER_mA || doubtful === true) continue;
    // Something so small is not what keeps this car over its allowance.
    if (amount_mA < NAME_SHARE * (rest_mA - state.options.allowance_mA)) continue;
    const part = tree.nodes[node]!.first;
    const id = tree.parts[part]!;
    if (parts[part]! < NAME_AT || [...before, ...found].some((other) => other.node === id)) continue;
    found.push({ node: id, amount_mA, sigma_mA });
  }
  return found;
}

/** What was not sure comes first, once; what feeds it goes in before. */
function withRepeat(state: Session, plan: Proposal[]): Pick<Conclusion, 'plan' | 'repeat'> {
  const tree = treeOf(state);
  const { repeat } = state;
  if (repeat === null || careOf(tree, repeat.node) !== 'free') return { plan, repeat };
  const expected_s = plan[0]?.expected_s ?? DEFAULT_COSTS.pull_s;
  const above = state.out.find((one) => isBehind(tree, repeat.node, one.node));
  return above === undefined
    ? { plan: [move(repeat.kind, repeat.node, 0, 0, expected_s), ...plan], repeat: null }
    : { plan: [move('refit', above.node, 0, 0, expected_s), ...plan], repeat };
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
