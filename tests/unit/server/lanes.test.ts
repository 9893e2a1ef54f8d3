// Who comes when, of many who wait for one reading thread.
import { expect, test } from 'vitest';
import { Waiters } from '../../../host/server/asker.ts';
import type { Asker } from '../../../host/server/asker.ts';
import { Lanes } from '../../../host/server/reading/lanes.ts';

const someone = ({ takes } = { takes: true }) => {
  const leaving = new AbortController(),
    state = { takes };
  return { leaving, state, asker: { gone: leaving.signal, lane: {}, takes: () => state.takes } };
};

interface Named {
  name: string;
  asker: Asker;
  dropped: boolean;
  drop(): void;
}

const asks = (name: string, asker: Asker): Named => ({
  name,
  asker,
  dropped: false,
  drop() {
    this.dropped = true;
  },
});

function drained(lanes: Lanes<Named>): string[] {
  const names: string[] = [];
  for (let one = lanes.next(); one !== null; one = lanes.next()) names.push(one.name);
  return names;
}

test('lanes take turns, however many one of them asks; quick ones go first', () => {
  const lanes = new Lanes<Named>();
  const [loud, calm] = [someone(), someone()];
  for (let i = 0; i < 4; i++) lanes.add(asks(`loud ${i}`, loud.asker), false);
  lanes.add(asks('calm', calm.asker), false);
  lanes.add(asks('quick', calm.asker), true);
  expect(drained(lanes)).toEqual(['quick', 'loud 0', 'calm', 'loud 1', 'loud 2', 'loud 3']);
  expect(lanes.empty).toBe(true);
});

test('what nobody waits for any more is dropped, and not answered', () => {
  const lanes = new Lanes<Named>();
  const [left, stays] = [someone(), someone()];
  const abandoned = [asks('a', left.asker), asks('b', left.asker), asks('quick', left.asker)];
  abandoned.forEach((one) => lanes.add(one, one.name === 'quick'));
  lanes.add(asks('stays', stays.asker), false);
  left.leaving.abort();
  expect(drained(lanes)).toEqual(['stays']);
  expect(abandoned.map(({ dropped }) => dropped)).toEqual([true, true, true]);
});

test('who has not taken the last answer is given no more until then, and keeps nobody waiting', () => {
  const lanes = new Lanes<Named>();
  const [stuck, calm] = [someone({ takes: false }), someone()];
  lanes.add(asks('stuck', stuck.asker), false);
  lanes.add(asks('calm', calm.asker), false);
  expect(drained(lanes)).toEqual(['calm']);
  expect(lanes.empty).toBe(false);
  stuck.state.takes = true;
  expect(drained(lanes)).toEqual(['stuck']);
});

test('an answer is wanted as long as one of those who asked for it is there', () => {
  const [first, second] = [someone(), someone()];
  const waiters = new Waiters(),
    others = new Waiters();
  for (const { asker } of [first, second]) {
    waiters.join(asker);
    others.join(asker);
  }
  first.leaving.abort();
  expect(waiters.leave()).toBe(true);
  second.leaving.abort();
  expect(others.leave()).toBe(false);
});
