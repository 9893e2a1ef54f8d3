// What the technician says of circuits that are not to be touched: marks at the car, and
// the question that comes before a fuse whose parts the list does not name.
import { describe, expect, test } from 'vitest';
import { treeOf } from '../../../host/bay/session/session-state.ts';
import { isPrepared } from '../../../host/bay/work/preparing.ts';
import { BayProblem } from '../../../host/bay/work/work.ts';
import type { BayAction } from '../../../host/contract/api-bay.ts';
import type { BayView } from '../../../host/contract/api-bay.ts';
import { HeldWork } from './held-work.ts';

const HEAD = 'box,position,rating,type,feeds,leave alone\n';
const PLAIN = `${HEAD}a,F1,10,regular,radio,\na,F2,10,regular,amplifier,\na,F3,10,regular,screen,`;

/** 220 mA all the time, whatever is done. */
class Car {
  private t_s = 0;
  constructor(
    list: string,
    public work = HeldWork.start(list, { step_mV: null }),
  ) {
    this.run(20);
    if (!isPrepared(work.state.prepare)) this.act({ do: 'ready' });
    this.run(40);
  }

  run(length_s: number): this {
    for (const end = this.t_s + length_s; this.t_s < end; this.t_s += 0.25)
      this.work.reading({ t_s: this.t_s, mean_mA: 220 }, 12.6);
    return this;
  }

  act(action: BayAction): this {
    this.work.act(action, 0);
    return this;
  }

  get view(): BayView {
    return this.work.view;
  }

  /** Names of all that is proposed, one after another, each skipped. */
  proposed(): string[] {
    const names: string[] = [];
    for (let view = this.view; view.move !== null && names.length < 20; view = this.view) {
      names.push(view.move.name);
      this.act({ do: 'skip' });
    }
    return names;
  }
}

describe('marked to be left alone', () => {
  test('in the list: never proposed, and shown', () => {
    const car = new Car(`${HEAD}a,F1,10,regular,radio,\na,F2,10,regular,tracker,yes\na,F3,10,regular,screen,`);
    expect(car.view.alone).toEqual(['fuse F2 (a)']);
    expect(car.proposed().sort()).toEqual(['F1', 'F3', 'radio', 'screen']);
  });

  test('at the car: what is proposed, or by name; it holds over a stop, and can be taken back', () => {
    const car = new Car(PLAIN);
    const first = car.view.move!.name;
    car.act({ do: 'alone', alone: true });
    expect(car.view).toMatchObject({ alone: [`fuse ${first} (a)`] });
    expect(car.view.move!.name).not.toBe(first);
    expect(car.view.said.at(-1)).toMatchObject({ code: 'alone', text: `fuse ${first} (a) is left alone` });
    const again = new Car(PLAIN, HeldWork.resume(car.work.toJSON()));
    expect(again.view.alone).toEqual([`fuse ${first} (a)`]);
    again.act({ do: 'alone', name: first, alone: false });
    expect(again.view.alone).toEqual([]);
    expect(again.proposed()).toContain(first);
  });

  test('nothing is proposed: it wants a name', () => {
    const car = new Car(PLAIN).act({ do: 'bridge', on: true }).act({ do: 'give-up' });
    expect(() => car.act({ do: 'alone', alone: true })).toThrow(BayProblem);
  });
});

describe('a fuse whose parts the list does not name', () => {
  const list = `${HEAD}a,F1,10,regular,,`;

  test('is asked about before it is proposed; a foot switch does not answer', () => {
    const car = new Car(list);
    expect(car.view).toMatchObject({ move: null, answers: ['yes', 'no', 'skip'] });
    expect(car.view.headline).toBe(
      'What does fuse F1 (a) feed? The list does not say. Look it up: is an airbag, seat belt or high-voltage circuit among it?',
    );
    car.act({ do: 'tap' });
    expect(car.view.move).toBeNull();
    car.act({ do: 'no' });
    expect(car.view.headline).toMatch(/^(Pull|Unplug) /);
  });

  test('of a restraint or high-voltage circuit: it is never pulled, also after a stop', () => {
    const car = new Car(list).act({ do: 'yes' });
    expect(car.view.move).toBeNull();
    const again = new Car(list, HeldWork.resume(car.work.toJSON())).run(600);
    expect([again.proposed(), again.view.finished]).toEqual([
      [],
      expect.stringMatching(/^Undecided: .*go on there by the car maker's procedure only/),
    ]);
  });

  test('several behind one feeder: asked together, and one by one where the answer is yes', () => {
    const car = new Car(
      `${HEAD}a,L1,40,large,"F1, F2, F3",\na,F1,10,regular,,\na,F2,10,regular,unknown,\na,F3,10,regular,radio,`,
    );
    const heard: string[] = [];
    const proposed: string[] = [];
    for (let i = 0; i < 30 && (car.view.move !== null || car.view.answers[0] === 'yes'); i++) {
      const { move, headline } = car.view;
      if (move !== null) proposed.push(move.name);
      else heard.push(headline);
      // F2 feeds a belt tensioner, which only the technician knows.
      car.act({ do: move !== null ? 'skip' : headline.includes('fuse F2') ? 'yes' : 'no' });
    }
    expect(
      heard.filter((one) => one.startsWith('Before fuse L1 (a) is tested: what do fuse F1 (a) and fuse F2 (a) feed?'))
        .length,
    ).toBeLessThanOrEqual(1);
    expect(
      treeOf(car.work.state.session)
        .nodes.filter((node) => node.restricted)
        .map((node) => node.name)
        .sort(),
    ).toEqual(['F2', 'L1', 'unknown']);
    expect(proposed.sort()).toEqual(['F1', 'F3', 'radio', 'what F1 feeds']);
  });

  test('cannot be looked up here: another move, and no question again', () => {
    const car = new Car(`${list}\na,F2,10,regular,radio,`);
    for (let i = 0; i < 6 && car.view.answers.includes('skip'); i++) car.act({ do: 'skip' });
    expect(car.view.headline).not.toMatch(/The list does not say/);
  });
});
