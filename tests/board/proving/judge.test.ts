// The judging held against boards whose truth is known, the shipped image behind them: the faults that show
// soon, and a sound board. All 25 of them on five specimens each, and 200 sound boards: judge.real.test.ts.
import { describe, expect, test } from 'vitest';
import { BUILD_FAULTS, SOUND } from './build-faults.ts';
import { prove } from './proved.ts';
import { soundSpecimen } from './specimens.ts';

/** Found at rest or with the first load: a second of the processor's time each, or less. */
const SOON = new Set(
  'alert pull-up-sda pull-up-scl pull-up-weak address chip-supply supply-dips other-chip no-supply no-current past-shunt sense-swapped'.split(
    ' ',
  ),
);

describe('proving a board', () => {
  const soon = BUILD_FAULTS.filter(({ is }) => SOON.has(is));

  test.each(soon.map((fault) => [fault.is, fault] as const))('%s is named', async (is, fault) => {
    const { ending } = await prove(fault, soundSpecimen(1));
    expect(ending.mistake, fault.what).toBe(is);
  });

  test('each of them is there', () => expect(soon.length).toBe(SOON.size));

  test.each([1])('a sound board passes, and is asked for no more than it must (%i)', async (seed) => {
    const { ending, asked } = await prove(SOUND, soundSpecimen(seed));
    expect(ending.mistake).toBeNull();
    expect(asked.filter((meter) => meter !== 'voltageLead_mV')).toEqual(['clamps_V', 'series_A', 'one_A', 'both_A']);
    if (ending.mistake !== null) return;
    // The shunt's 1 %, the meter's 1 %, and their small change; never nothing at all.
    expect(ending.within.share).toBeGreaterThan(0.0001);
    expect(ending.within.share).toBeLessThan(0.025);
    expect(ending.within.zero_mA).toBeLessThan(0.6);
  });
});
