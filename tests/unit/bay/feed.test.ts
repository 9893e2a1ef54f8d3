// What is known of each node of the feed tree, as it goes to a screen: against the work that
// it comes of, and how little of it there is in a large car.
import { describe, expect, test } from 'vitest';
import { treeOf } from '../../../host/bay/session/session-state.ts';
import { findNode } from '../../../host/bay/tree/tree.ts';
import { bayView } from '../../../host/contract/api.ts';
import { HeldSession } from './held-session.ts';
import { HeldWork } from './held-work.ts';
import { SimCar } from './sim-car.ts';
import { SimHand } from './sim-hand.ts';
import { WorkedCar } from './worked-car.ts';

const CSV = [
  'box,position,rating,type,feeds,leave alone',
  'a,L1,100,bolted,"F1,F2,F3",',
  'a,F1,10,regular,"radio, screen",',
  'a,F2,10,regular,amplifier,',
  'a,F3,10,regular,airbag unit,',
  'a,F4,10,regular,clock,yes',
].join('\n');

function begun(): WorkedCar {
  return new WorkedCar(HeldWork.start(CSV)).run(20).act({ do: 'ready' }).run(40);
}
const nodeOf = (car: WorkedCar, name: string) => findNode(treeOf(car.work.state.session), name)!.id;
const feed = (car: WorkedCar) => bayView.parse(car.work.view).feed;
const letter = (car: WorkedCar, name: string) => feed(car).states[nodeOf(car, name)];

describe('the state of a node', () => {
  test('nothing is known before the first level; after it every place is possible, with its share', () => {
    const car = new WorkedCar(HeldWork.start(CSV));
    expect(feed(car)).toMatchObject({ states: 'o'.repeat(10), shares: [], next: null });
    const measured = begun();
    expect(feed(measured).states).toBe('p'.repeat(10));
    const shares = new Map(feed(measured).shares);
    expect(shares.get(nodeOf(measured, 'L1'))).toBe(80);
    expect(shares.get(nodeOf(measured, 'F1'))).toBe(40);
    expect(shares.get(nodeOf(measured, 'radio'))).toBe(20);
  });

  test('marked and restricted nodes are told, feeders too, and what is to be done next', () => {
    const car = begun();
    expect(feed(car).alone).toEqual([nodeOf(car, 'F4')]);
    expect(feed(car).restricted).toEqual(['L1', 'F3', 'airbag unit'].map((name) => nodeOf(car, name)));
    const { move } = car.work.view;
    expect(feed(car).next).toEqual({ kind: move!.kind, node: nodeOf(car, move!.name) });
  });

  test('a voltage of nothing rules a branch out, and a wrong one brings it back when it is taken back', () => {
    const car = begun().act({ do: 'drop', name: 'F1', drop_mV: 0 });
    expect(['F1', 'radio', 'screen', 'F2'].map((name) => letter(car, name))).toEqual(['r', 'r', 'r', 'p']);
    car.act({ do: 'wrong' });
    expect(['F1', 'radio', 'screen', 'F2'].map((name) => letter(car, name))).toEqual(['p', 'p', 'p', 'p']);
  });

  test('out at once, while it is still measured; then named, and nothing else is looked for', () => {
    const car = begun().act({ do: 'drop', name: 'F2', drop_mV: 1.5 }).act({ do: 'did', what: 'pulled', name: 'F2' });
    expect(feed(car).out).toEqual([nodeOf(car, 'F2')]);
    car.out.add('F2');
    car.run(60);
    expect(feed(car)).toMatchObject({ named: [nodeOf(car, 'amplifier')], out: [nodeOf(car, 'F2')], shares: [] });
    expect([letter(car, 'amplifier'), letter(car, 'F2'), letter(car, 'radio')]).toEqual(['n', 'o', 'o']);
    expect(car.work.view.stage).toBe('closing');
    car.act({ do: 'tap' });
    expect(feed(car).out).toEqual([nodeOf(car, 'F2')]);
    car.act({ do: 'tap' });
    expect(feed(car).out).toEqual([]);
  });
});

/** The search in a simulated car, looked at after each new result. */
function* looks(seed: number): Generator<HeldSession> {
  const options = { fuses: { least: 90, most: 90 }, levels: 3, faults: 2, unrest: 1, partsMost: 3 };
  const car = new SimCar(seed, options);
  const session = HeldSession.start(car.csv());
  const kept: HeldSession[] = [];
  const take = session.take.bind(session);
  session.take = (event) => {
    const before = session.state;
    take(event);
    if (session.state.observations !== before.observations) kept.push(new HeldSession(session.state));
  };
  new SimHand(car, session, { wrong: 0, limit_s: 3 * 3600 }).run();
  yield* kept;
}

test('in a car of 90 fuses: what is likeliest is never ruled out, and all of it stays under 3 KB', () => {
  let seen = 0;
  for (const session of looks(7)) {
    const { feed: state, sought, finished } = session.view;
    const { nodes } = session.tree;
    expect(state.states).toHaveLength(nodes.length);
    if (finished === null)
      for (const { places } of sought) {
        const first = places[0] && nodes.find(({ name, kind }) => kind === 'part' && name === places[0]!.name)!;
        if (first !== undefined && !state.named.includes(first.id)) expect(state.states[first.id]).toBe('p');
      }
    // A fuse is ruled out where all behind it is.
    for (const { id, children } of nodes)
      if (state.states[id] === 'r') expect(children.every((child) => state.states[child] !== 'p')).toBe(true);
    expect(JSON.stringify(state).length).toBeLessThan(3000);
    seen++;
  }
  expect(seen).toBeGreaterThan(5);
});
