// The walk from one fuse box to another, as a cost of the plan: cars of three boxes, each plan
// followed to the end through every answer, with and without knowing of the walk.
import { describe, expect, test } from 'vitest';
import { allMoves, DEFAULT_COSTS } from '../../../host/bay/search/moves.ts';
import { planMoves } from '../../../host/bay/search/planner.ts';
import { readTree } from '../../../host/bay/tree/tree-build.ts';
import { findNode } from '../../../host/bay/tree/tree.ts';
import type { FeedTree } from '../../../host/bay/tree/tree.ts';
import { HeldSession } from './held-session.ts';
import { SimCar } from './sim-car.ts';

const AMOUNT_mA = 150;

interface Way {
  walks: number;
  time_s: number;
}

/** Walks and seconds until the part is named, mean over all parts; a plan that does not know of the walk walks too. */
function followed(tree: FeedTree, walk_s: number): Way {
  const moves = allMoves(tree, DEFAULT_COSTS);
  const follow = (open: number[], at: string | null): Way => {
    const parts = new Float64Array(tree.parts.length);
    for (const part of open) parts[part] = 1 / open.length;
    const costs = { ...DEFAULT_COSTS, walk_s };
    const draws = [{ amount_mA: AMOUNT_mA, parts }];
    const next = planMoves({ tree, draws, out: [], costs, at, step_mV: 0.1, done: new Map() })[0]!;
    const move = moves.find((one) => one.kind === next.kind && one.node === next.node)!;
    const { box } = tree.nodes[move.node]!;
    const within = open.filter((part) => part >= move.first && part < move.end);
    const outside = open.filter((part) => part < move.first || part >= move.end);
    const then = move.kind === 'unplug' ? at : box;
    const walked = then !== null && at !== null && then !== at ? 1 : 0;
    const share = within.length / open.length;
    const none = { walks: 0, time_s: 0 };
    const found = move.direct || share === 0 ? none : follow(within, then);
    const lost = outside.length === 0 ? none : follow(outside, then);
    return {
      walks: walked + share * found.walks + (1 - share) * lost.walks,
      time_s:
        walked * DEFAULT_COSTS.walk_s +
        move.cost_s +
        share * (move.direct ? 0 : move.refit_s + found.time_s) +
        (1 - share) * (outside.length === 0 ? 0 : move.later_s + lost.time_s),
    };
  };
  return follow(
    tree.parts.map((_, part) => part),
    null,
  );
}

test.each([1, 2, 3])(
  'in a car of three boxes a plan that knows of the walk walks less and is done sooner: car %i',
  (seed) => {
    const car = new SimCar(seed, { fuses: { least: 30, most: 34 }, levels: 3, faults: 1, unrest: 0, partsMost: 2 });
    const { tree } = readTree(car.csv());
    expect(new Set(tree!.nodes.map(({ box }) => box)).size).toBe(3);
    const [knowing, unknowing] = [followed(tree!, DEFAULT_COSTS.walk_s), followed(tree!, 0)];
    console.log(
      `car ${seed}: ${knowing.walks.toFixed(1)} walks and ${knowing.time_s.toFixed(0)} s, without knowing ${unknowing.walks.toFixed(1)} and ${unknowing.time_s.toFixed(0)} s`,
    );
    expect(knowing.walks).toBeLessThan(0.6 * unknowing.walks);
    expect(knowing.time_s).toBeLessThan(unknowing.time_s);
  },
);

describe('where the hand is', () => {
  const CSV = [
    'box,position,rating,type,feeds',
    ...['dash', 'boot'].flatMap((box) => [1, 2, 3].map((n) => `${box},F${n},10,regular,${box} ${n}`)),
  ].join('\n');

  /** A car of six fuses, alike but for the box, that draws 200 mA somewhere. */
  function levelled(): HeldSession {
    const session = HeldSession.start(CSV);
    for (let t_s = 0; t_s < 60; t_s += 0.25) session.take({ kind: 'reading', t_s, mean_mA: 220 });
    return session;
  }
  const boxOfNext = (session: HeldSession) => session.tree.nodes[session.state.plan[0]!.node]!.box;

  test.each(['dash', 'boot'])('what was read in the %s is followed by a fuse of the same box', (box) => {
    const session = levelled();
    const node = findNode(session.tree, `${box}/F2`)!.id;
    session.take({ kind: 'drop', t_s: 61, node, drop_mV: 0 });
    expect(boxOfNext(session)).toBe(box);
  });

  test('a part that was unplugged leaves the hand at the box before it', () => {
    const session = levelled();
    session.take({ kind: 'drop', t_s: 61, node: findNode(session.tree, 'boot/F1')!.id, drop_mV: 0 });
    session.take({ kind: 'did', t_s: 62, what: 'unplugged', node: findNode(session.tree, 'dash 1')!.id });
    for (let t_s = 62; t_s < 180; t_s += 0.25) session.take({ kind: 'reading', t_s, mean_mA: 220 });
    expect(session.state.out).toHaveLength(1);
    expect(boxOfNext(session)).toBe('boot');
  });
});
