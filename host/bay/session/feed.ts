// The feed tree as far as it is known: what is named, where a draw may be and how likely, what
// is ruled out, what is out, and what is not to be touched. Nodes by their number, so that a
// screen that has the tree draws it from a few hundred letters.

import type { FeedState } from '../../contract/api-bay.ts';
import type { Draw } from '../search/belief.ts';
import { FAINT } from '../search/planner.ts';
import type { Proposal } from '../search/planner.ts';
import type { FeedTree, TreeNode } from '../tree/tree.ts';
import { outNow, treeOf } from './session-state.ts';
import type { Session } from './session-state.ts';

type Known = Pick<FeedState, 'states' | 'shares' | 'named' | 'alone' | 'restricted'>;

/** By the draws that are looked for: the same ones are the same list until there is a new result. */
const known = new WeakMap<readonly Draw[], { list: Session['list']; known: Known }>();

/**
 * Some microseconds where only the phase has changed since the last time, else some hundred.
 * @param draws those that are looked for still
 * @param next what is proposed; undefined where nothing is
 */
export function feedOf(state: Session, draws: readonly Draw[], next: Proposal | undefined): FeedState {
  const { phase, list } = state;
  let before = known.get(draws);
  if (before?.list !== list) known.set(draws, (before = { list, known: knownOf(state, draws) }));
  const refits = phase.name === 'bridge-on' || phase.name === 'refitting';
  return {
    ...before.known,
    out: outNow(state),
    next: refits
      ? { kind: 'refit', node: phase.node }
      : next === undefined
        ? null
        : { kind: next.kind, node: next.node },
  };
}

function knownOf(state: Session, draws: readonly Draw[]): Known {
  const tree = treeOf(state);
  const named = state.named.map(({ node }) => node);
  const behind = draws.map((draw) => sharesOf(tree, draw));
  const which = (is: (node: TreeNode) => boolean) => tree.nodes.filter(is).map(({ id }) => id);
  const letterOf = ({ id }: TreeNode) => {
    if (named.includes(id)) return 'n';
    if (draws.length === 0) return 'o';
    return behind.some(({ within }) => within[id] === 1) ? 'p' : 'r';
  };
  return {
    states: tree.nodes.map(letterOf).join(''),
    shares: tree.nodes.flatMap(({ id }): [number, number][] => {
      const percent = Math.round(100 * Math.max(0, ...behind.map(({ share }) => share[id]!)));
      return percent < 1 ? [] : [[id, percent]];
    }),
    named,
    alone: which(({ alone }) => alone),
    restricted: which(({ restricted }) => restricted),
  };
}

/** Of each node: how likely a draw lies behind it, and whether any place there is likely enough to be planned for. */
function sharesOf({ nodes, parts }: FeedTree, draw: Draw) {
  const least = FAINT * draw.parts.reduce((most, value) => Math.max(most, value), 0);
  const sums = new Float64Array(parts.length + 1);
  const counts = new Int32Array(parts.length + 1);
  draw.parts.forEach((value, part) => {
    sums[part + 1] = sums[part]! + value;
    counts[part + 1] = counts[part]! + Number(value > 0 && value >= least);
  });
  return {
    share: nodes.map(({ first, end }) => sums[end]! - sums[first]!),
    within: nodes.map(({ first, end }) => Number(counts[end]! > counts[first]!)),
  };
}
