// The next move: the one after which the least time is expected until every draw that
// is looked for has its part named. All draws count: a pull tells about each of them.

import type { Draw } from './belief.ts';
import { allMoves, dropShows, walkTo_s } from './moves.ts';
import type { Costs, MoveKind, TestMove } from './moves.ts';
import { DrawSearch } from './search.ts';
import { isBehind } from '../tree/tree.ts';
import type { FeedTree } from '../tree/tree.ts';

export interface Proposal {
  /** `refit`: what is to be tested next lies behind a fuse that is out. */
  kind: MoveKind | 'refit';
  node: number;
  /** Seconds until all is named, as far as can be expected. */
  expected_s: number;
  /** Probability that the draw that it is likeliest to show lies behind it, and the size of that draw. */
  share: number;
  amount_mA: number;
}

export interface Situation {
  tree: FeedTree;
  /** Draws that are looked for still. */
  draws: Draw[];
  /** Nodes that are out. */
  out: readonly number[];
  costs: Costs;
  /** The box that the hand is at; null where that is not known. */
  at: string | null;
  /** The meter's last digit; null without a meter that reads mV. */
  step_mV: number | null;
  /** How often each test was done: the same one again tells less. Key `kind node`. */
  done: ReadonlyMap<string, number>;
}

/** Candidates less likely than this share of the likeliest are not planned for; they come back when those fail. */
export const FAINT = 0.05;
/** First tests that are looked ahead from. */
const LOOKED_AT = 12;
/** A test is not done more often than this. */
const TIMES_MAX = 3;

export const testName = (kind: string, node: number) => `${kind} ${node}`;

/** The best moves, best first; empty where nothing is left that could tell more. */
export function planMoves(situation: Situation): Proposal[] {
  const { tree, draws, out, costs, done, at } = situation;
  const moves = allMoves(tree, costs).filter((move) => (done.get(testName(move.kind, move.node)) ?? 0) < TIMES_MAX);
  const games = draws
    .map((draw) => gameOf(situation, draw, moves))
    .filter(
      (game) => game.search.canName(game.candidates) && Number.isFinite(game.search.expected_s(game.candidates, at)),
    );
  const first = new Map<string, TestMove>();
  for (const { search, candidates } of games)
    for (const move of search.ranked(candidates, at).slice(0, LOOKED_AT))
      first.set(testName(move.kind, move.node), move);
  const proposals = [...first.values()].map((move): Proposal => {
    const blocker = out.find((id) => isBehind(tree, move.node, id));
    const from = blocker === undefined ? at : tree.nodes[blocker]!.box;
    const dark_s = blocker === undefined ? 0 : walkTo_s(at, from, costs.walk_s) + costs.refit_s + costs.settle_s;
    const own_s = walkTo_s(from, move.box, costs.walk_s) + move.cost_s;
    let expected_s = own_s + dark_s;
    let share = 0;
    let amount_mA = 0;
    for (const game of games) {
      const tells = game.moves.has(move);
      expected_s += tells
        ? game.search.after_s(move, game.candidates, from) - own_s
        : game.search.expected_s(game.candidates, move.box ?? from);
      if (tells && shareBehind(move, game) > share) [share, amount_mA] = [shareBehind(move, game), game.draw.amount_mA];
    }
    const kind = blocker === undefined ? move.kind : 'refit';
    return {
      kind,
      node: blocker ?? move.node,
      expected_s,
      share,
      amount_mA,
    };
  });
  return proposals.filter((one) => Number.isFinite(one.expected_s)).sort((a, b) => a.expected_s - b.expected_s);
}

interface Game {
  search: DrawSearch;
  candidates: number[];
  moves: Set<TestMove>;
  draw: Draw;
}

function gameOf({ tree, step_mV, costs }: Situation, draw: Draw, all: TestMove[]): Game {
  const top = draw.parts.reduce((best, value) => Math.max(best, value), 0);
  const candidates: number[] = [];
  draw.parts.forEach((value, part) => {
    if (value > 0 && value >= FAINT * top) candidates.push(part);
  });
  const moves = all.filter(
    (move) => move.kind !== 'drop' || (step_mV !== null && dropShows(tree, move.node, draw.amount_mA, step_mV)),
  );
  return { search: new DrawSearch(moves, draw.parts, costs.walk_s), candidates, moves: new Set(moves), draw };
}

function shareBehind(move: TestMove, { draw }: Game): number {
  let sum = 0;
  for (let part = move.first; part < move.end; part++) sum += draw.parts[part]!;
  return sum;
}
