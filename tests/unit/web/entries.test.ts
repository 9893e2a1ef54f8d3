// The words and folds of the list of what happened.
import { describe, expect, test } from 'vitest';
import type { Findings, WakeUp } from '../../../host/contract/findings.ts';
import { entriesOf } from '../../../web/entries.ts';
import { inventNight, STAIRS, STEADY } from '../../browser/nights.ts';

const steady = inventNight(STEADY).findings;
const gapsOf = (count: number) =>
  Array.from({ length: count }, (_, i) => ({ start_s: 100 * i + 50, end_s: 100 * i + 62 }));
const withGaps = (count: number): Findings => ({ ...steady, trace: { ...steady.trace, gaps: gapsOf(count) } });

describe('what happened', () => {
  test('many gaps are one entry with a way through them, a few stand each for itself', () => {
    const gapEntries = (count: number) => entriesOf(withGaps(count)).filter((entry) => entry.kind === 'gap');
    expect(gapEntries(20)).toEqual([
      expect.objectContaining({
        at_s: 50,
        fold: true,
        title: '20 gaps without readings',
        more: '4 min in all, the longest 12 s',
        ids: gapsOf(20).map((_, i) => `gap-${i}`),
      }),
    ]);
    expect(gapEntries(3).map((entry) => [entry.title, entry.more, entry.fold])).toEqual(
      Array.from({ length: 3 }, () => ['No readings', 'for 12 s', false]),
    );
  });

  test('many dips are one entry', () => {
    const dip = (i: number): WakeUp => ({
      start_s: i * 60,
      end_s: i * 60 + 5,
      peak_mA: 320,
      mean_mA: 200,
      charge_mAh: -0.0002,
      charge_95_mAh: { low: -0.0002, high: -0.0002 },
      family: null,
      steps: [],
    });
    const dips = Array.from({ length: 8 }, (_, i) => dip(i));
    expect(
      entriesOf({ ...steady, dips })
        .filter((entry) => entry.kind === 'dip')
        .map((entry) => entry.title),
    ).toEqual(['8 dips']);
    expect(entriesOf({ ...steady, dips: dips.slice(0, 1) }).find((entry) => entry.kind === 'dip')!.more).toBe(
      'mean 200 mA, \u22120.2 µAh',
    );
  });

  test('entries stand in the order of the night, a family once, a step in its last minutes too', () => {
    const { findings } = inventNight(STAIRS);
    const late = {
      t_s: findings.trace.duration_s - 200,
      from_mA: 19,
      to_mA: 519,
      t_95_s: { low: 0, high: 0 },
      change_95_mA: { low: 499, high: 501 },
    };
    const entries = entriesOf({ ...findings, steps: [...findings.steps, late] });
    expect(entries.map((entry) => entry.kind)).toEqual([
      'step',
      'step',
      'step',
      'step',
      'asleep',
      'family',
      'wakeup',
      'gap',
      'step',
    ]);
    expect(entries.at(-1)!.title).toBe('+500 mA → 519 mA');
    expect(entries.find((entry) => entry.kind === 'family')!.title).toBe('Family 1: 15 wake-ups, every 34 min');
  });
});
