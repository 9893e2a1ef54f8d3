// Work at a car around the pulls themselves: the bridge, the proof load, what is taken
// back, readings that cannot be, and work that is broken off while something is out.
import { describe, expect, test } from 'vitest';
import { CLOSING_LIST } from '../../../host/bay/work/repair.ts';
import { HeldWork } from './held-work.ts';
import { WorkedCar } from './worked-car.ts';

const ready = () => new WorkedCar().run(20).act({ do: 'ready' }).run(40);
/** The voltage speaks for F2, and the draw falls with it. */
function found(): WorkedCar {
  const car = ready().act({ do: 'drop', name: 'F2', drop_mV: 1.5 }).act({ do: 'did', what: 'pulled', name: 'F2' });
  car.out.add('F2');
  return car.run(60);
}
const view = (car: WorkedCar) => car.work.view;
const codes = (car: WorkedCar) => car.entries.map(({ code }) => code);

test('a tap that does nothing is no answer: what is answered next is not taken for one to the question before', () => {
  const car = new WorkedCar().run(5).act({ do: 'ready' }).run(2);
  const shown = view(car).answered;
  // Nothing is asked for while the first level is waited for.
  expect(view(car.act({ do: 'tap' })).answered).toBe(shown);
  expect(view(car.run(60).act({ do: 'drop', drop_mV: 0 })).answered).toBe(shown + 1);
});

describe('the bridge', () => {
  test('said to be off and forgotten: told so, and seen to come off later', () => {
    const car = new WorkedCar();
    car.proof_mA = -110;
    car.run(20);
    for (let item = 0; item < 9; item++) car.run(2).act({ do: 'tap' });
    expect(view(car.run(20)).sight).toMatch(/bridge is still on/);
    car.proof_mA = 0;
    expect(view(car.run(20)).sight).toMatch(/did not wake/);
  });

  test('on while nothing goes in: nothing is proposed or measured until it is off', () => {
    const car = ready();
    const asked = view(car).headline;
    car.act({ do: 'bridge', on: true });
    expect(view(car).headline).toMatch(/^The bridge is on: nothing is measured\./);
    expect(view(car)).toMatchObject({ answers: ['tap'], move: null, bridge: 'on' });
    // The shunt carries a part of the draw now; that is no fall.
    car.proof_mA = -150;
    car.run(60);
    expect(codes(car)).not.toContain('fell');
    car.proof_mA = 0;
    car.act({ do: 'tap' }).run(30);
    expect(view(car)).toMatchObject({ headline: asked, bridge: 'off' });
  });

  test('prepared by the list, it is off at the end; left on, that is said', () => {
    const car = new WorkedCar().run(20);
    for (let item = 1; item <= 8; item++) car.act({ do: 'tap' });
    expect(view(car).bridge).toBe('on');
    car.act({ do: 'tap' });
    expect(view(car).bridge).toBe('off');
    const left = new WorkedCar().run(20);
    for (let item = 1; item <= 8; item++) left.act({ do: 'tap' });
    expect(view(left.act({ do: 'ready' })).headline).toMatch(/^The bridge is on/);
  });

  test('closing asks for it before anything goes in', () => {
    const car = found();
    expect(view(car)).toMatchObject({ stage: 'closing', headline: 'Bridge on: fuse F2 (a) goes in again.' });
    car.act({ do: 'tap' });
    expect(view(car)).toMatchObject({ headline: 'Put fuse F2 (a) in again.', bridge: 'on', out: ['fuse F2 (a)'] });
    car.act({ do: 'tap' });
    expect(view(car)).toMatchObject({ out: [], step: { number: 1, of: CLOSING_LIST.length } });
  });
});

describe('the proof load', () => {
  // 12.6 V over 10 Ohm is 15.9 W.
  test('is refused where it would burn, and can be left out', () => {
    const car = ready();
    expect(() => car.act({ do: 'proof', resistor_Ohm: 10 })).toThrow(
      /10 ohm would turn 16 W into heat; take one of 24 to 240 ohm/,
    );
    const asked = view(car).headline;
    car.act({ do: 'proof', resistor_Ohm: 100 });
    expect(view(car).answers).toContain('skip');
    car.act({ do: 'skip' });
    expect(view(car).headline).toBe(asked);
    expect(codes(car)).toContain('proof-left');
  });
});

describe('taken back', () => {
  test('a tap that is being measured, not the result before it', () => {
    const car = ready().act({ do: 'did', what: 'pulled', name: 'F1' }).run(90);
    expect(view(car).out).toEqual(['fuse F1 (a)']);
    car.act({ do: 'did', what: 'pulled', name: 'F3' }).run(3);
    expect(view(car)).toMatchObject({ out: ['fuse F1 (a)', 'fuse F3 (a)'], answers: ['wrong'] });
    car.act({ do: 'wrong' }).run(30);
    expect(view(car).out).toEqual(['fuse F1 (a)']);
  });

  test('a level that was measured meanwhile is no deed: the pull before it is taken back', () => {
    const car = ready().act({ do: 'did', what: 'pulled', name: 'F1' }).run(90);
    car.proof_mA = 60;
    car.run(600);
    car.act({ do: 'wrong' });
    expect(car.entries.at(-1)!.text).toBe('taken back: fuse F1 (a)');
    expect(view(car).out).toEqual([]);
    car.act({ do: 'wrong' });
    expect(car.entries.at(-1)!.text).toBe('there is nothing to take back');
  });

  test('a part that was named by it is named no more', () => {
    const car = found();
    expect(view(car).named.map(({ name }) => name)).toEqual(['amplifier']);
    car.out.delete('F2');
    car.act({ do: 'wrong' }).run(60);
    expect(view(car)).toMatchObject({ stage: 'pulling', named: [] });
  });
});

describe('broken off', () => {
  test('with a fuse out that is just being measured: said, also after giving up', () => {
    const car = ready().act({ do: 'did', what: 'pulled', name: 'F2' });
    expect(car.work.leave()).toMatch(/^still out: fuse F2 \(a\)\. Bridge on/);
    car.act({ do: 'give-up' });
    expect(view(car)).toMatchObject({ stage: 'closing', out: ['fuse F2 (a)'] });
  });

  test.each(['F1', 'F2', 'F3'])(
    'killed while %s, which was just pulled, is measured: it is not forgotten, and no other part is accused',
    (name) => {
      const car = ready().act({ do: 'did', what: 'pulled', name });
      car.out.add(name);
      car.run(2);
      const again = new WorkedCar(HeldWork.resume(car.kept().state));
      again.out.add(name);
      again.run(300);
      if (view(again).answers[0] === 'yes') again.act({ do: 'yes' }).run(60);
      const asked = view(again).move?.name === name;
      expect(asked || view(again).out.includes(`fuse ${name} (a)`)).toBe(true);
      expect(view(again).named.filter((one) => one.name !== 'amplifier')).toEqual([]);
    },
  );
});

describe('readings that cannot be', () => {
  test.each([
    [
      '900 A',
      { do: 'drop', name: 'F2', drop_mV: 6930 } as const,
      /6930 mV across a regular fuse of 10 A would be 900\.0 A, more than it carries: is the fuse blown/,
    ],
    ['no number', { do: 'drop', name: 'F2', drop_mV: NaN } as const, /NaN is not a voltage in mV/],
    [
      'a part read',
      { do: 'drop', name: 'radio', drop_mV: 1 } as const,
      /radio is a part; a voltage is read across a fuse/,
    ],
    ['no such fuse', { do: 'drop', name: 'F9', drop_mV: 1 } as const, /'F9' is no fuse or part of the tree/],
    [
      'a part pulled',
      { do: 'did', what: 'pulled', name: 'radio' } as const,
      /radio cannot be pulled; a part is unplugged/,
    ],
    ['no question', { do: 'drop', drop_mV: 1 } as const, /no voltage is asked for now; name the fuse that was read/],
  ])('%s: in words, and nothing changes', (_, action, words) => {
    const car = new WorkedCar(
      HeldWork.start(
        'box,position,rating,type,feeds\na,F1,10,regular,radio\na,F2,10,regular,amplifier\na,F3,10,regular,screen',
        { step_mV: null },
      ),
    )
      .run(20)
      .act({ do: 'ready' })
      .run(40);
    const before = car.work.toJSON();
    expect(() => car.act(action)).toThrow(words);
    expect(car.work.toJSON()).toBe(before);
  });

  // The probes the other way round: the same current.
  test('a negative voltage counts as its amount', () => {
    const car = ready().act({ do: 'drop', name: 'F2', drop_mV: -1.5 });
    expect(car.entries.at(-1)!.text).toMatch(/^fuse F2 \(a\): -1\.5 mV is 195 mA/);
  });

  test('a current of 900 A on the board ends nothing', () => {
    const car = ready();
    car.proof_mA = 900_000;
    car.run(20);
    car.proof_mA = 0;
    car.run(300);
    expect(view(car)).toMatchObject({ stage: 'pulling', named: [] });
    expect(view(car).move).not.toBeNull();
  });
});

test('evidence that is noted while a pull is measured does not lose the pull', () => {
  const car = ready().act({ do: 'did', what: 'pulled', name: 'F2' });
  car.out.add('F2');
  car.act({ do: 'evidence', name: 'radio', kind: 'other', text: 'it clicks', source: 'the customer' });
  expect(view(car)).toMatchObject({ answers: ['wrong'], out: ['fuse F2 (a)'] });
  expect(codes(car.run(60))).toContain('result');
});

test('evidence says its odds in words', () => {
  const car = ready().act({ do: 'evidence', name: 'radio', kind: 'function test', text: '', source: 'the customer' });
  expect(car.entries.at(-1)!.text).toBe('noted on radio: its function was tested and passed (2 : 1 against it)');
});
