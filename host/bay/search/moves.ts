// What a technician can do at the car to find out more, and what each costs in time.

import { dropSigma_mA } from '../tree/fuses.ts';
import { careOf } from '../tree/care.ts';
import type { FeedTree } from '../tree/tree.ts';

export type MoveKind = 'drop' | 'pull' | 'unplug';

export interface TestMove {
  kind: MoveKind;
  node: number;
  /** Parts that it tells apart from all others: numbers from `first` up to `end`. */
  first: number;
  end: number;
  cost_s: number;
  /** What a positive answer costs before anything behind it can be tested: refit and settling. */
  refit_s: number;
  /** What a negative answer costs in the end: the fuse goes back, without waiting. */
  later_s: number;
  /** A fall names the part: nothing else of the tree hangs there. */
  direct: boolean;
  /** Where the hand has to be; null: at the part, and the way there and back is in its own cost. */
  box: string | null;
}

/**
 * Seconds of a technician's time. Assumed from the order of the work, no source; settling is learnt as the session
 * goes.
 */
export interface Costs {
  drop_s: number;
  pull_s: number;
  unplug_s: number;
  /** Bridge on, fuse in, bridge off. */
  refit_s: number;
  /** Until the car draws again what it did, after a refit. */
  settle_s: number;
  /** A fuse that goes back in the end. */
  later_s: number;
  /**
   * From one fuse box to another. Ours, no source: some metres round the car with lamp and meter, the cover off, the
   * place found in the list.
   */
  walk_s: number;
}

export const DEFAULT_COSTS: Costs = {
  ...{ drop_s: 15, pull_s: 30, unplug_s: 90, refit_s: 30, settle_s: 240, later_s: 10 },
  walk_s: 30,
};

/** Seconds to another box than the hand is at. @param at null: not known, so that no way is better than another */
export const walkTo_s = (at: string | null, box: string | null, walk_s: number): number =>
  at === null || box === null || at === box ? 0 : walk_s;

/** A drop tells whether a draw is there only where it stands so far out of the reading's spread. */
const DROP_SIGMAS = 4;

/** Whether a drop across `node` shows a draw of `amount_mA`. */
export function dropShows(tree: FeedTree, node: number, amount_mA: number, step_mV: number): boolean {
  const { type, rating_A } = tree.nodes[node]!;
  return amount_mA / dropSigma_mA(type, rating_A, amount_mA, step_mV) >= DROP_SIGMAS;
}

/**
 * All tests that this tree allows. Bolted links stay in; restraint and high-voltage circuits are read, where the maker
 * allows it, and never pulled.
 */
export function allMoves(tree: FeedTree, costs: Costs): TestMove[] {
  const moves: TestMove[] = [];
  for (const node of tree.nodes) {
    const one = node.end - node.first === 1;
    const { first, end, id, box } = node;
    const again_s = costs.refit_s + costs.settle_s;
    const care = careOf(tree, id);
    if (care === 'leave alone') continue;
    if (node.kind === 'fuse')
      moves.push({
        kind: 'drop',
        node: id,
        first,
        end,
        cost_s: costs.drop_s,
        refit_s: 0,
        later_s: 0,
        direct: false,
        box,
      });
    if (care !== 'free') continue;
    if (node.kind === 'part')
      moves.push({
        kind: 'unplug',
        node: id,
        first,
        end,
        cost_s: costs.unplug_s,
        refit_s: 0,
        later_s: costs.later_s,
        direct: true,
        box: null,
      });
    else if (node.type !== 'bolted')
      moves.push({
        kind: 'pull',
        node: id,
        first,
        end,
        cost_s: costs.pull_s,
        refit_s: one ? 0 : again_s,
        later_s: costs.later_s,
        direct: one,
        box,
      });
  }
  return moves;
}
