// The voltages of a whole box as one deed: kept whole or not at all, believed as if each had
// been noted by itself, and taken back as one.
import { describe, expect, test } from 'vitest';
import { DropsProblem } from '../../../host/bay/work/work.ts';
import { HeldWork } from './held-work.ts';
import { WorkedCar } from './worked-car.ts';

const begun = () => new WorkedCar().run(20).act({ do: 'ready' }).run(40);
const box = (...readings: [string, string][]) =>
  ({ do: 'drops', readings: readings.map(([name, written]) => ({ name, written })) }) as const;
const drops = (car: WorkedCar) => car.work.state.session.observations.filter(({ how }) => how === 'drop');

describe('a box of voltages', () => {
  test('is believed like the same voltages one by one, with a decimal comma and a minus too', () => {
    const whole = begun().act(box(['F1', '0'], ['F2', '-1,5'], ['a/F3', '0.1']));
    const single = begun();
    for (const [name, drop_mV] of [
      ['F1', 0],
      ['F2', -1.5],
      ['F3', 0.1],
    ] as const)
      single.act({ do: 'drop', name, drop_mV });
    const plain = (car: WorkedCar) => drops(car).map(({ batch: _, t_s: __, ...one }) => one);
    expect(plain(whole)).toEqual(plain(single));
    expect(whole.work.view.sought).toEqual(single.work.view.sought);
    expect(whole.work.view.headline).toBe(single.work.view.headline);
    expect(whole.entries.filter(({ code }) => code === 'drop').map(({ text }) => text)).toEqual([
      '3 voltages read: fuse F2 (a) -1.5 mV, 195 mA; fuse F3 (a) 0.1 mV, 13 mA; 1 other under 10 mA',
    ]);
  });

  test('is taken back as one, also after a stop, and what was read before it stays', () => {
    const car = begun()
      .act({ do: 'drop', name: 'F1', drop_mV: 0 })
      .act(box(['F2', '1.5'], ['F3', '0']));
    const again = new WorkedCar(HeldWork.resume(car.kept().state)).run(300);
    for (const one of [car, again]) {
      expect(drops(one)).toHaveLength(3);
      one.act({ do: 'wrong' });
      expect(drops(one).map(({ node }) => node)).toEqual([0]);
      expect(one.work.state.session.done).toMatchObject({ 'drop 0': 1, 'drop 1': 0, 'drop 2': 0 });
      expect(one.entries.at(-1)!.text).toBe('taken back: 2 voltages');
      one.act({ do: 'wrong' });
      expect(drops(one)).toEqual([]);
    }
  });

  test('with wrong ones among it is refused whole, and each is told by its place', () => {
    const car = begun();
    const before = car.work.toJSON();
    const all = box(
      ['F1', '0.1'],
      ['F9', '1'],
      ['F1', '2'],
      ['F2', 'much'],
      ['F3', '6930'],
      ['radio', '1'],
      ['F3', ''],
    );
    let problem: unknown;
    try {
      car.act(all);
    } catch (error) {
      problem = error;
    }
    expect(problem).toBeInstanceOf(DropsProblem);
    expect((problem as DropsProblem).complaints).toEqual([
      { at: 1, text: "'F9' is no fuse of the tree, or there are several; write box/position" },
      { at: 2, text: 'F1 was read twice; the other one is in reading 1' },
      { at: 3, text: "'much' is not a voltage in mV" },
      { at: 4, text: expect.stringMatching(/^F3: 6930 mV .* would be 900\.0 A, more than it carries/) as string },
      { at: 5, text: "'radio' is no fuse of the tree, or there are several; write box/position" },
      { at: 6, text: 'F3 was read twice; the other one is in reading 5' },
    ]);
    expect(car.work.toJSON()).toBe(before);
  });

  test('says which tell nothing: no feed, or no known resistance', () => {
    const csv = 'box,position,rating,type,feeds\na,L1,100,bolted,"F1,F2"\na,F1,10,regular,radio\na,F2,10,regular,clock';
    const car = new WorkedCar(HeldWork.start(csv)).run(20).act({ do: 'ready' }).run(40);
    car.act({ do: 'did', what: 'pulled', name: 'F1' }).run(120);
    car.act(box(['L1', '0.1'], ['F1', '0'], ['F2', '0']));
    expect(car.entries.at(-1)!.text).toBe(
      '3 voltages read: 1 under 10 mA; fuse L1 (a) has no known resistance; fuse F1 (a) has no feed now',
    );
  });
});
