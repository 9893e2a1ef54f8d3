// What `record` says of the night while it runs: asleep once that is known, each waking
// once, and nothing of windows that came too late.
import { expect, test } from 'vitest';
import { SoFar } from '../../../host/commands/so-far.ts';
import { nightOf, traceOf } from '../analysis/night.ts';

test('asleep is told once it is sure, then each waking', () => {
  const night = nightOf('periodic', 3);
  const { mean_mA, min_mA, max_mA } = traceOf(night, { step_s: 0.5, windows: true, noise_mA: 0.1 }, 3);
  const said: { text: string; at_s: number }[] = [];
  let now_s = 0;
  const soFar = new SoFar((text) => said.push({ text, at_s: now_s }));
  mean_mA.forEach((mA, i) => {
    now_s = (i + 1) * 0.5;
    const reading = {
      kind: 'window',
      seq: i,
      t_us: now_s * 1e6,
      dur_us: 5e5,
      count: 470,
      mean_uA: mA * 1000,
      min_uA: min_mA![i]! * 1000,
      max_uA: max_mA![i]! * 1000,
      charge_nC: 0,
      flags: 0,
    } as const;
    soFar.take({ reading, t_s: now_s, late: false });
    if (i % 100 === 7) soFar.take({ reading: { ...reading, mean_uA: 9e6, max_uA: 9e6 }, t_s: now_s - 20, late: true });
  });
  const asleep_s = night.asleep!.after_s;
  expect(said[0]!.at_s).toBeGreaterThan(asleep_s + 1800);
  expect(said[0]!.at_s).toBeLessThan(asleep_s + 1800 + 1300);
  const level = Math.round(night.asleep!.level_mA);
  for (const { text } of said)
    expect(text).toMatch(
      new RegExp(
        `^so far: asleep after [\\d.]+ min at ${level} mA; (nothing woke it yet|woken (once|twice|\\d+ times), the last [\\d.]+ m?s with a peak of [\\d.]+ m?A)$`,
      ),
    );
  const times = said.map(({ text }) =>
    /nothing/.test(text) ? 0 : /once/.test(text) ? 1 : /twice/.test(text) ? 2 : Number(/woken (\d+)/.exec(text)![1]),
  );
  expect(times).toEqual([...times].sort((a, b) => a - b));
  expect(times.at(-1)).toBeGreaterThanOrEqual(night.bursts.length - 3);
  expect(times.at(-1)).toBeLessThanOrEqual(night.bursts.length);
});
