// Restraint and high-voltage circuits in 500 simulated cars: whatever the draw is, and
// wherever it is believed to be, nothing of them is ever proposed but a reading that the
// car maker's procedure allows. Whole searches in two of the cars; in all of them with
// NIGHTDRAW_SOAK=1.
import { expect, test } from 'vitest';
import { nightAdvice } from '../../../host/bay/search/intermittent.ts';
import { allMoves, DEFAULT_COSTS } from '../../../host/bay/search/moves.ts';
import { planMoves } from '../../../host/bay/search/planner.ts';
import { readTree } from '../../../host/bay/tree/tree-build.ts';
import type { FeedTree } from '../../../host/bay/tree/tree.ts';
import { HeldSession } from './held-session.ts';
import { HARMLESS_NAMES, RESTRICTED_NAMES, spellings } from './restricted-names.ts';
import { SimCar } from './sim-car.ts';
import type { SimNode } from './sim-car.ts';
import { SimHand } from './sim-hand.ts';

const CARS = 500;
const SEARCHED = process.env['NIGHTDRAW_SOAK'] === '1' ? CARS : 2;
const EACH = 6;
const ALL = RESTRICTED_NAMES.flatMap(spellings);

interface NamedCar {
  car: SimCar;
  restricted: SimNode[];
  harmless: SimNode[];
}

/** Every name comes in five of the cars, always of parts far from each other. */
function namedCar(seed: number): NamedCar {
  const car = new SimCar(seed, {
    fuses: { least: 14, most: 26 },
    levels: 3,
    faults: 1 + (seed % 2),
    unrest: 1,
    partsMost: 2,
  });
  const step = Math.floor(car.parts.length / (2 * EACH));
  const place = (names: readonly string[], first: number, stride: number, offset: number) =>
    Array.from({ length: EACH }, (_, i) => {
      const part = car.parts[(2 * i + offset) * step]!;
      part.name = names[(first + i * stride) % names.length]!;
      return part;
    });
  // Two spellings of one name in one list would be a mistake of the list.
  return { car, restricted: place(ALL, seed * EACH, 101, 0), harmless: place(HARMLESS_NAMES, seed * EACH, 1, 1) };
}

/** By rules of the test's own: what is on one fuse with such a part, through relays too, and what feeds it. */
function untouchable({ car, restricted }: NamedCar): Set<SimNode> {
  const fuseOf = (node: SimNode): SimNode =>
    node.kind === 'fuse' || node.parent === null ? node : fuseOf(node.parent);
  const fuses = new Set(restricted.map(fuseOf));
  const feeds = new Set<SimNode>();
  for (const part of restricted) for (let at: SimNode | null = part; at !== null; at = at.parent) feeds.add(at);
  return new Set(car.all.filter((node) => feeds.has(node) || fuses.has(fuseOf(node))));
}

/** Fuses and parts of the car as nodes of the tree. */
function idsOf(tree: FeedTree): (node: SimNode) => number {
  const ids = new Map(
    tree.nodes.map((node) => [node.kind === 'part' ? node.name : `${node.box}/${node.position}`, node.id]),
  );
  return (node) => ids.get(node.kind === 'part' ? node.name : `${node.box}/${node.name}`)!;
}

test(`${CARS} cars: neither pulled, nor unplugged, nor left out, nor watched by a second board`, () => {
  const wrong: string[] = [];
  let advised = 0;
  for (let seed = 1; seed <= CARS; seed++) {
    const one = namedCar(seed);
    const { tree, complaints } = readTree(one.car.csv());
    if (tree === null) throw new Error(`seed ${seed}: ${complaints[0]!.text}`);
    const idOf = idsOf(tree);
    const hands = new Set([...untouchable(one)].map(idOf));
    const moves = allMoves(tree, DEFAULT_COSTS).filter(({ kind }) => kind !== 'drop');
    wrong.push(
      ...moves
        .filter(({ node }) => hands.has(node))
        .map(({ kind, node }) => `seed ${seed}: ${kind} ${tree.nodes[node]!.name}`),
    );
    for (const part of one.harmless)
      if (!hands.has(idOf(part)) && !moves.some(({ node }) => node === idOf(part)))
        wrong.push(`seed ${seed}: ${part.name} is not tested`);
    // The draw is believed to be with those parts.
    const belief = Float64Array.from(tree.parts, (id) => (hands.has(id) ? 1 : 0.05));
    const advice = nightAdvice(tree, belief, 99);
    advised += advice.length;
    wrong.push(
      ...advice
        .filter(({ node, how }) => hands.has(node) && how !== 'leave in')
        .map(({ text }) => `seed ${seed}: ${text}`),
    );
  }
  expect(wrong).toEqual([]);
  expect(advised).toBeGreaterThan(CARS);
});

test('the plan that looks for them reads, and takes out nothing of theirs', () => {
  for (let seed = 1; seed <= CARS; seed += CARS / 10) {
    const one = namedCar(seed);
    const tree = readTree(one.car.csv()).tree!;
    const hands = new Set([...untouchable(one)].map(idsOf(tree)));
    const draws = [{ amount_mA: 150, parts: Float64Array.from(tree.parts, (id) => (hands.has(id) ? 0.9 : 0.1)) }];
    const plan = planMoves({ tree, draws, out: [], costs: DEFAULT_COSTS, at: null, step_mV: 0.1, done: new Map() });
    expect(
      plan.filter(({ kind, node }) => kind !== 'drop' && hands.has(node)),
      `seed ${seed}`,
    ).toEqual([]);
  }
});

test(`${SEARCHED} searches from the first level to the end propose nothing else`, () => {
  let readings = 0;
  for (let seed = 1; seed <= SEARCHED; seed++) {
    const one = namedCar(seed);
    const session = HeldSession.start(one.car.csv());
    const hands = new Set([...untouchable(one)].map(idsOf(session.tree)));
    const take = session.take.bind(session);
    let seen: unknown = null;
    session.take = (event) => {
      take(event);
      const { phase, plan } = session.state;
      if (phase.name !== 'proposing' || plan === seen) return;
      seen = plan;
      expect(
        plan.filter(({ kind, node }) => (kind === 'pull' || kind === 'unplug') && hands.has(node)),
        `seed ${seed}`,
      ).toEqual([]);
      const { move, headline, cautions } = session.view;
      if (move === null || !hands.has(plan[0]!.node)) return;
      readings++;
      expect(headline).toMatch(/^Only if the car maker's procedure allows it: read the voltage across /);
      expect(cautions[0]).toMatch(/measure only if the maker allows it/);
    };
    // A hand that errs pulls what it should not by itself; here it does what it is told.
    const result = new SimHand(one.car, session, { wrong: 0, limit_s: 6 * 3600 }).run();
    // In so small a car a sound part may draw more than the 10 mA that mean nothing: named for that, it is not accused
    // falsely.
    const draws_mA = new Map(one.car.parts.map((part) => [part.name, part.draw_mA]));
    expect(
      result.accused.filter((name) => draws_mA.get(name)! < 10),
      `seed ${seed}`,
    ).toEqual([]);
  }
  expect(readings).toBeGreaterThan(0);
});
