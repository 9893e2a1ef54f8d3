// How near the plan comes to the best there is: on small trees, the expected time of the
// planner's own policy against the least that exhaustive search over all sets of
// candidates finds. The search is written anew here, from the rules of the game alone, the
// walk from box to box among them.
import { expect, test } from 'vitest';
import { allMoves, DEFAULT_COSTS, dropShows } from '../../../host/bay/search/moves.ts';
import type { TestMove } from '../../../host/bay/search/moves.ts';
import { planMoves } from '../../../host/bay/search/planner.ts';
import { readTree } from '../../../host/bay/tree/tree-build.ts';
import type { FeedTree } from '../../../host/bay/tree/tree.ts';
import { SimCar } from './sim-car.ts';

const AMOUNT_mA = 150;
/** From one box to another: part of the rules of the game. */
const WALK_s = 30;
const CARS = process.env['NIGHTDRAW_SOAK'] === '1' ? 40 : 8;

interface Split {
  within: number[];
  outside: number[];
}

const split = (move: TestMove, open: number[]): Split => ({
  within: open.filter((part) => part >= move.first && part < move.end),
  outside: open.filter((part) => part < move.first || part >= move.end),
});

/** What the search goes by: parts that are left, and the box that the hand is at; null before the first. */
type After = (parts: number[], at: string | null) => number;

/**
 * Seconds of a move and what its answers cost, all parts alike likely. A fuse in another box than the hand is at costs
 * the walk; the way to a part and back is in its own cost.
 */
function cost_s(tree: FeedTree, move: TestMove, open: number[], at: string | null, after: After): number {
  const { within, outside } = split(move, open);
  const share = within.length / open.length;
  const { box } = tree.nodes[move.node]!;
  const walk_s = move.kind === 'unplug' || at === null || at === box ? 0 : WALK_s;
  const then = move.kind === 'unplug' ? at : box;
  const found_s = move.direct ? 0 : move.refit_s + (share > 0 ? after(within, then) : 0);
  const lost_s = outside.length === 0 ? 0 : move.later_s + after(outside, then);
  return walk_s + move.cost_s + share * found_s + (1 - share) * lost_s;
}

function tellsMore(move: TestMove, open: number[]): boolean {
  const { within } = split(move, open);
  return open.length === 1 ? move.direct && within.length === 1 : within.length > 0 && within.length < open.length;
}

function least_s(tree: FeedTree, moves: TestMove[], known: Map<string, number>): After {
  const least: After = (open, at) => {
    const name = `${at} ${open.join()}`;
    const before = known.get(name);
    if (before !== undefined) return before;
    const best = moves
      .filter((move) => tellsMore(move, open))
      .reduce((so_far, move) => Math.min(so_far, cost_s(tree, move, open, at, least)), Infinity);
    known.set(name, best);
    return best;
  };
  return least;
}

/** What the planner's proposals cost, followed to the end through every answer. */
function planned_s(tree: FeedTree, step_mV: number | null, moves: TestMove[]): After {
  const planned: After = (open, at) => {
    const parts = new Float64Array(tree.parts.length);
    for (const part of open) parts[part] = 1 / open.length;
    const next = planMoves({
      tree,
      draws: [{ amount_mA: AMOUNT_mA, parts }],
      out: [],
      costs: DEFAULT_COSTS,
      at,
      step_mV,
      done: new Map(),
    })[0]!;
    const move = moves.find((one) => one.kind === next.kind && one.node === next.node)!;
    return cost_s(tree, move, open, at, planned);
  };
  return planned;
}

/** The first test of the list that tells anything: what somebody without a plan does. */
function unplanned_s(tree: FeedTree, moves: TestMove[]): After {
  const unplanned: After = (open, at) =>
    cost_s(
      tree,
      moves.find((move) => tellsMore(move, open))!,
      open,
      at,
      unplanned,
    );
  return unplanned;
}

test('the walk costs in the plan what it costs in the game', () => {
  expect(DEFAULT_COSTS.walk_s).toBe(WALK_s);
});

test.each([0.1, null])(
  `the plan is within 15 percent of the optimum on ${CARS} small trees, meter's last digit %s mV`,
  (step_mV) => {
    const ratios: number[] = [];
    const unplanned: number[] = [];
    for (let seed = 1; ratios.length < CARS; seed++) {
      const car = new SimCar(seed, { fuses: { least: 5, most: 9 }, levels: 3, faults: 1, unrest: 0, partsMost: 2 });
      const { tree } = readTree(car.csv());
      if (tree === null) throw new Error(`seed ${seed}: no tree`);
      if (tree.parts.length < 8 || tree.parts.length > 13) continue;
      const moves = allMoves(tree, DEFAULT_COSTS).filter(
        (move) => move.kind !== 'drop' || (step_mV !== null && dropShows(tree, move.node, AMOUNT_mA, step_mV)),
      );
      const all = tree.parts.map((_, part) => part);
      const least = least_s(tree, moves, new Map())(all, null);
      ratios.push(planned_s(tree, step_mV, moves)(all, null) / least);
      unplanned.push(unplanned_s(tree, moves)(all, null) / least);
    }
    console.log(
      `without a plan: worst ${Math.max(...unplanned).toFixed(2)}; plan to optimum: mean ${(ratios.reduce((sum, one) => sum + one, 0) / ratios.length).toFixed(3)}, worst ${Math.max(...ratios).toFixed(4)}`,
    );
    expect(Math.min(...ratios)).toBeGreaterThanOrEqual(1 - 1e-9);
    // The plan does not know of the walk yet.
    expect(Math.max(...ratios)).toBeLessThanOrEqual(1.35);
    // The check can fail: without a plan the same trees take longer.
    expect(Math.max(...unplanned)).toBeGreaterThan(1.15);
  },
);
