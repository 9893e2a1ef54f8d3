// A pull session by hand: pull and refit with and without taps, stopped and resumed,
// impossible readings, and a fuse that is never refitted.
import { describe, expect, test } from 'vitest';
import { readWork } from '../../../host/bay/work/kept-state.ts';
import { findNode } from '../../../host/bay/tree/tree.ts';
import { HeldSession } from './held-session.ts';

const CSV = 'box,position,rating,type,feeds\na,F1,10,regular,radio\na,F2,10,regular,amplifier\na,F3,10,regular,screen';

/** A car in which one part draws 200 mA beside 20 of the rest. */
class Bay {
  t_s = 0;
  readonly out = new Set<string>();
  constructor(
    public session = HeldSession.start(CSV, { step_mV: null }),
    private readonly faulty = 'F2',
  ) {}

  run(length_s: number): this {
    for (const end = this.t_s + length_s; this.t_s < end; this.t_s += 0.25) {
      const mean_mA = 20 + (this.out.has(this.faulty) ? 0 : 200);
      this.session.take({ kind: 'reading', t_s: this.t_s, mean_mA });
    }
    return this;
  }

  /** Does what is asked for until the session ends. */
  work(most = 20): this {
    for (let i = 0; i < most && this.session.view.finished === null; i++) {
      const { move } = this.session.view;
      if (move !== null) {
        this.out.add(move.name);
        this.session.take({ kind: 'tap', t_s: this.t_s });
      }
      this.run(30);
    }
    return this;
  }
}

describe('a pull session', () => {
  test('finds the part, says that the fuse is still out, and takes it back', () => {
    const bay = new Bay().run(40).work();
    const view = bay.session.view;
    expect(view.named.map((one) => one.name)).toEqual(['amplifier']);
    expect(view.named[0]!.amount_mA).toBeCloseTo(200, 0);
    expect(view.finished).toMatch(/^Found: .*Still out: .*fuse F2 \(a\).* Bridge on, then put them back\./);
    for (const { node } of [...bay.session.state.out])
      bay.session.take({ kind: 'did', t_s: bay.t_s, what: 'refitted', node });
    expect(bay.session.view.finished).not.toMatch(/Still out/);
  });

  test('notices the pull of what was asked for without a tap', () => {
    const bay = new Bay(HeldSession.start(CSV, { step_mV: null }), 'F1').run(40);
    const asked = bay.session.view.move!.name;
    const same = new Bay(HeldSession.start(CSV, { step_mV: null }), asked).run(40);
    same.out.add(asked);
    same.run(12);
    // One fall, of all the draw that is looked for: asked about, since nothing was tapped.
    expect(['measuring', 'asking', 'finished']).toContain(same.session.state.phase.name);
    same.run(60);
    if (same.session.state.phase.name === 'asking') same.session.take({ kind: 'answer', t_s: same.t_s, yes: true });
    same.run(30);
    expect(same.session.state.named.map((one) => same.session.tree.nodes[one.node]!.name)).toEqual([
      { F1: 'radio', F2: 'amplifier', F3: 'screen' }[asked],
    ]);
  });

  test('stopped in the middle, kept as text and gone on with: nothing is lost', () => {
    const bay = new Bay().run(40);
    const { move } = bay.session.view;
    bay.out.add(move!.name);
    bay.session.take({ kind: 'tap', t_s: bay.t_s });
    bay.run(30);
    const results = bay.session.state.observations.length;
    const again = new Bay(HeldSession.resume(bay.session.toJSON()));
    for (const name of bay.out) again.out.add(name);
    expect(again.session.state.observations).toHaveLength(results);
    again.run(60).work();
    expect(again.session.view.named.map((one) => one.name)).toEqual(['amplifier']);
  });

  test('a draw in an airbag circuit is neither pulled for nor named, and said', () => {
    const bay = new Bay(HeldSession.start(`${CSV}\na,F4,10,regular,airbag unit`, { step_mV: null }), 'airbag unit').run(
      40,
    );
    for (let i = 0; i < 20 && bay.session.view.finished === null; i++) {
      expect(bay.session.view.move?.name).not.toBe('F4');
      bay.work(1).run(120);
    }
    expect(bay.session.view.named).toEqual([]);
    expect(bay.session.view.finished).toMatch(
      /^Undecided: 220 mA are not accounted for.*airbag unit: go on there by the car maker's procedure only/,
    );
  });

  test('a car within its allowance is not searched', () => {
    const bay = new Bay();
    bay.out.add('F2');
    expect(bay.run(60).session.view.finished).toMatch(/^Nothing to look for/);
  });

  test('stopped with a fuse out: said', () => {
    const bay = new Bay().run(40);
    bay.session.take({ kind: 'did', t_s: bay.t_s, what: 'pulled', node: findNode(bay.session.tree, 'F1')!.id });
    bay.run(30);
    bay.session.take({ kind: 'stop', t_s: bay.t_s });
    expect(bay.session.view.finished).toMatch(/^Stopped.*Still out: fuse F1/);
  });

  test('a voltage that tells of more than the whole car draws is refused, and the fuse asked for again', () => {
    const bay = new Bay().run(40);
    const { session, t_s } = bay;
    const f2 = findNode(session.tree, 'F2')!.id;
    const before = session.state;
    // Read on the wrong range: far too much.
    expect(() => session.take({ kind: 'drop', t_s, node: f2, drop_mV: 40 })).toThrow(
      /^40 mV across .*F2.* would be .* A or more, but the whole car draws .* mA: is the meter on mV/,
    );
    expect(session.state).toEqual(before);
    session.take({ kind: 'drop', t_s, node: f2, drop_mV: 1.5 });
    expect(session.state.observations).toHaveLength(before.observations.length + 1);
  });

  test('no event changes the state that it is given, nor does a view', () => {
    const frozen = <T>(part: T): T => {
      if (typeof part !== 'object' || part === null || Object.isFrozen(part)) return part;
      Object.values(Object.freeze(part)).forEach(frozen);
      return part;
    };
    const session = HeldSession.start(CSV, { step_mV: 0.1 });
    const take = session.take.bind(session);
    session.take = (event) => {
      frozen(session.state);
      take(event);
    };
    const bay = new Bay(session).run(40);
    const [f1, f2] = ['F1', 'F2'].map((name) => findNode(session.tree, name)!.id) as [number, number];
    const { t_s } = bay;
    session.take({ kind: 'drop', t_s, node: f2, drop_mV: 1.5 });
    session.take({ kind: 'alone', t_s, node: f1, alone: true });
    session.take({ kind: 'alone', t_s, node: f1, alone: false });
    session.take({ kind: 'did', t_s, what: 'pulled', node: f1 });
    session.take({ kind: 'wrong', t_s });
    bay.run(60).work();
    session.take({ kind: 'resumed', t_s: 0 });
    expect(session.view.named.map((one) => one.name)).toEqual(['amplifier']);
  });

  test('what was kept and is no session is refused in words', () => {
    for (const text of [
      '',
      '{}',
      'null',
      '{"version":2}',
      '{"version":2,"session":{"list":{"treeText":"x"}},"prepare":{}}',
    ])
      expect(() => readWork(text)).toThrow(/start it anew|mistake in line/);
  });
});
