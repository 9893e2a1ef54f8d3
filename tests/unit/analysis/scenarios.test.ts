// Nights drawn to try the definitions word by word: each one small, its truth worked
// out by hand from the definition that it tries. Invented; no source but the definitions.

import { describe, expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import type { Findings } from '../../../host/contract/findings.ts';
import type { AnalysisOptions } from '../../../host/contract/settings.ts';
import type { Burst, Landing, Sampling } from './night.ts';
import { traceOf } from './night.ts';

const H = 3600;
const WINDOWS: Sampling = { step_s: 0.05, windows: true, noise_mA: 0.2 };
const POINTS: Sampling = { step_s: 1, windows: false, noise_mA: 0.5 };

function look(
  duration_s: number,
  base: [number, number][],
  bursts: [number, number, number][],
  sampling: Sampling,
  options: Partial<AnalysisOptions> = {},
): Findings {
  const landings: Landing[] = base.map(([t_s, level_mA]) => ({ t_s, level_mA }));
  const plan = {
    duration_s,
    base: landings,
    bursts: bursts.map(([start_s, end_s, height_mA]): Burst => ({ start_s, end_s, height_mA })),
  };
  return analyse(traceOf(plan, sampling, 7), { ...DEFAULT_OPTIONS, ...options });
}

function expectSteps(
  found: { t_s: number; from_mA: number; to_mA: number }[],
  wanted: [number, number, number][],
): void {
  expect(found.map((s) => [Math.round(s.t_s), Math.round(s.from_mA), Math.round(s.to_mA)])).toEqual(
    wanted.map(([t, a, b]) => [Math.round(t), a, b]),
  );
}

function expectSpans(found: { start_s: number; end_s: number }[], wanted: [number, number][], within_s: number): void {
  expect(found.map((w) => [w.start_s, w.end_s])).toEqual(
    wanted.map(([a, b]) => [a, b].map((t) => expect.closeTo(t, -Math.log10(2 * within_s)) as number)),
  );
}

describe.each([
  ['windows of 50 ms', WINDOWS, 0.05],
  ['points of 1 s', POINTS, 1],
])('%s', (_, sampling, within_s) => {
  test('a wake-up on the staircase counts, and the steps around it stay', () => {
    const f = look(
      3 * H,
      [
        [0, 800],
        [300, 300],
        [900, 20],
      ],
      [[500, 540, 700]],
      sampling,
    );
    expectSteps(f.steps, [
      [300, 800, 300],
      [900, 300, 20],
    ]);
    expectSpans(f.wakeups, [[500, 540]], within_s);
    expect(f.asleep?.after_s).toBeCloseTo(900, 0);
    expect(f.charge.going_to_sleep_mAh).toBeCloseTo((800 * 300 + 300 * 600) / H, 0);
  });

  test('a wake-up that begins on the staircase and ends asleep comes back below', () => {
    const f = look(
      3 * H,
      [
        [0, 300],
        [900, 20],
      ],
      [[880, 1000, 700]],
      sampling,
    );
    expectSpans(f.wakeups, [[880, 1000]], within_s);
    expectSteps(f.wakeups[0]!.steps, [[900, 1000, 720]]);
    expect(f.steps).toEqual([]);
    expect(f.asleep?.after_s).toBeCloseTo(1000, 0);
    expect(f.asleep?.level_mA).toBeCloseTo(20, 0);
  });

  test('one that runs at the start is a step down, one that runs at the end is a step up', () => {
    const f = look(
      2 * H,
      [[0, 20]],
      [
        [-10, 60, 500],
        [2 * H - 60, 2 * H + 10, 500],
      ],
      sampling,
    );
    expectSteps(f.steps, [
      [60, 520, 20],
      [2 * H - 60, 20, 520],
    ]);
    expect(f.wakeups).toEqual([]);
    expect(f.asleep?.level_mA).toBeCloseTo(20, 0);
  });

  test('wake-ups back to back are two where the level shows between them', () => {
    const f = look(
      2 * H,
      [[0, 20]],
      [
        [3000, 3030, 500],
        [3036, 3066, 500],
      ],
      sampling,
    );
    expectSpans(
      f.wakeups,
      [
        [3000, 3030],
        [3036, 3066],
      ],
      within_s,
    );
    expect(f.steps).toEqual([]);
  });

  test('one wake-up right after another of another height is one, with an inner step', () => {
    const f = look(
      2 * H,
      [[0, 20]],
      [
        [3000, 3060, 500],
        [3060, 3120, 900],
      ],
      sampling,
    );
    expectSpans(f.wakeups, [[3000, 3120]], within_s);
    expectSteps(f.wakeups[0]!.steps, [[3060, 520, 920]]);
  });

  test('stacked wake-ups are one, with inner steps up and down', () => {
    const f = look(
      2 * H,
      [[0, 20]],
      [
        [3000, 3200, 100],
        [3060, 3120, 900],
      ],
      sampling,
    );
    expectSpans(f.wakeups, [[3000, 3200]], within_s);
    expectSteps(f.wakeups[0]!.steps, [
      [3060, 120, 1020],
      [3120, 1020, 120],
    ]);
    expect(f.wakeups[0]!.charge_mAh).toBeCloseTo((100 * 200 + 900 * 60) / H, 1);
  });

  test('staggered wake-ups are one as well', () => {
    const f = look(
      2 * H,
      [[0, 20]],
      [
        [3000, 3100, 300],
        [3060, 3200, 200],
      ],
      sampling,
    );
    expectSpans(f.wakeups, [[3000, 3200]], within_s);
    expectSteps(f.wakeups[0]!.steps, [
      [3060, 320, 520],
      [3100, 520, 220],
    ]);
  });

  test('a module that falls asleep during a wake-up: an inner step, a lower level after', () => {
    const f = look(
      4 * H,
      [
        [0, 55],
        [6060, 20],
      ],
      [[6000, 6200, 400]],
      sampling,
    );
    expectSpans(f.wakeups, [[6000, 6200]], within_s);
    expectSteps(f.wakeups[0]!.steps, [[6060, 455, 420]]);
    expect(f.steps).toEqual([]);
    expect(f.asleep).toMatchObject({
      after_s: expect.closeTo(6200, 0) as number,
      level_mA: expect.closeTo(20, 0) as number,
    });
  });

  test('a wake-up of over an hour with inner steps', () => {
    const f = look(
      5 * H,
      [[0, 20]],
      [
        [6000, 10000, 200],
        [7000, 8000, 300],
        [9000, 10000, 50],
      ],
      sampling,
    );
    expectSpans(f.wakeups, [[6000, 10000]], within_s);
    expectSteps(f.wakeups[0]!.steps, [
      [7000, 220, 520],
      [8000, 520, 220],
      [9000, 220, 270],
    ]);
    expect(f.steps).toEqual([]);
  });

  test('dips: falls that come back', () => {
    const f = look(
      3 * H,
      [[0, 60]],
      [
        [4000, 4030, -35],
        [8000, 8300, -35],
      ],
      sampling,
    );
    expectSpans(
      f.dips,
      [
        [4000, 4030],
        [8000, 8300],
      ],
      within_s,
    );
    expect(f.steps).toEqual([]);
    expect(f.wakeups).toEqual([]);
    expect(f.asleep?.level_mA).toBeCloseTo(60, 0);
  });

  test('a fall to sleep is no dip, though wake-ups later reach the staircase level', () => {
    const f = look(
      4 * H,
      [
        [0, 500],
        [600, 20],
      ],
      [
        [1200, 1260, 480],
        [5000, 9000, 480],
        [9600, 9660, 480],
      ],
      sampling,
    );
    expectSteps(f.steps, [[600, 500, 20]]);
    expectSpans(
      f.wakeups,
      [
        [1200, 1260],
        [5000, 9000],
        [9600, 9660],
      ],
      within_s,
    );
    expect(f.dips).toEqual([]);
  });

  test('a rise that never comes back is a step, with wake-ups before and after it', () => {
    const f = look(
      5 * H,
      [
        [0, 20],
        [9000, 75],
      ],
      [
        [4000, 4050, 900],
        [12000, 12050, 900],
      ],
      sampling,
    );
    expectSteps(f.steps, [[9000, 20, 75]]);
    expectSpans(
      f.wakeups,
      [
        [4000, 4050],
        [12000, 12050],
      ],
      within_s,
    );
    expect(f.asleep?.level_mA).toBeCloseTo(20, 0);
    expect(f.verdict.code).toBe('over');
  });

  test('a small rise that is held is two steps; one that is not held is nothing', () => {
    const f = look(
      3 * H,
      [[0, 20]],
      [
        [4000, 4300, 12],
        [6000, 6010, 12],
        [7000, 7012, 9],
      ],
      sampling,
    );
    expectSteps(f.steps, [
      [4000, 20, 32],
      [4300, 32, 20],
    ]);
    expect(f.wakeups).toEqual([]);
  });

  test('a step of 6 mA counts, one of 3 mA does not', () => {
    const f = look(
      4 * H,
      [
        [0, 20],
        [5000, 26],
        [9000, 29],
      ],
      [],
      sampling,
    );
    expectSteps(f.steps, [[5000, 20, 26]]);
  });

  test('drift of 12 mA over the night is no step', () => {
    const f = look(
      9 * H,
      [
        [0, 300],
        [900, 20],
      ],
      [
        [7200, 7250, 600],
        [20000, 20050, 600],
      ],
      { ...sampling, drift: (t) => (12 * t) / (9 * H) + 2 * Math.sin(t / 2000) },
    );
    expect(f.steps).toHaveLength(1);
    expect(f.wakeups).toHaveLength(2);
    expect(f.asleep?.after_s).toBeCloseTo(900, 0);
  });

  test('levels of 30 min in sum: a later fall of 12 mA puts sleep off, one of 8 mA does not', () => {
    const far = look(
      4 * H,
      [
        [0, 300],
        [600, 40],
        [6000, 28],
      ],
      [],
      sampling,
    );
    expect(far.asleep?.after_s).toBeCloseTo(6000, 0);
    const near = look(
      4 * H,
      [
        [0, 300],
        [600, 40],
        [6000, 32],
      ],
      [],
      sampling,
    );
    expect(near.asleep?.after_s).toBeCloseTo(600, 0);
    expect(near.asleep?.level_mA).toBeCloseTo(40, 0);
  });

  test('30 min in sum, with spells between: asleep counts from the first', () => {
    const spells: [number, number, number][] = [
      [1200, 3600, 250],
      [4200, 6600, 250],
      [7200, 9600, 250],
    ];
    const f = look(
      3 * H,
      [
        [0, 300],
        [600, 20],
      ],
      spells,
      sampling,
    );
    expect(f.asleep?.after_s).toBeCloseTo(600, 0);
    expectSpans(
      f.wakeups,
      spells.map(([a, b]) => [a, b]),
      within_s,
    );
  });

  test('29 min at a level are not enough', () => {
    expect(
      look(
        1200 + 29 * 60,
        [
          [0, 300],
          [1200, 20],
        ],
        [],
        sampling,
      ).asleep,
    ).toBeNull();
    expect(
      look(
        1200 + 31 * 60,
        [
          [0, 300],
          [1200, 20],
        ],
        [],
        sampling,
      ).asleep,
    ).not.toBeNull();
  });

  test('verdicts, in their order', () => {
    const code = (duration_s: number, level: number, bursts: [number, number, number][], allowance_mA = 50) =>
      look(
        duration_s,
        [
          [0, 300],
          [600, level],
        ],
        bursts,
        sampling,
        { allowance_mA },
      ).verdict.code;
    expect(code(1500, 20, [])).toBe('short');
    expect(
      look(
        1.5 * H,
        [
          [0, 900],
          [1500, 500],
          [3000, 200],
          [4500, 90],
        ],
        [],
        sampling,
      ).verdict.code,
    ).toBe('awake');
    expect(code(2 * H, 60, [])).toBe('over');
    expect(code(2 * H, 60, [], 70)).toBe('within');
    expect(code(2 * H, 20, [[3000, 3600, 500]])).toBe('wakes');
    expect(code(2 * H, 20, [[3000, 3030, 500]])).toBe('within');
  });

  test('two families run between each other, each with its period, members missed', () => {
    const bursts: [number, number, number][] = [];
    for (let i = 0; i < 14; i++) if (i !== 4 && i !== 9) bursts.push([2000 + 2040 * i, 2048 + 2040 * i, 1900]);
    for (let i = 0; i < 30; i++) if (i % 11 !== 7) bursts.push([2500 + 907 * i, 2509 + 907 * i, 300]);
    const clear = bursts.filter((b) => bursts.every((c) => b === c || b[1] + 5 < c[0] || c[1] + 5 < b[0]));
    const f = look(
      9 * H,
      [
        [0, 300],
        [900, 20],
      ],
      clear,
      sampling,
    );
    expect(f.wakeups).toHaveLength(clear.length);
    expect(f.families).toHaveLength(2);
    const byHeight = [...f.families].sort((a, b) => b.charge_mAh - a.charge_mAh);
    expect(byHeight[0]).toMatchObject({
      duration_s: expect.closeTo(48, 0) as number,
      period_s: expect.closeTo(2040, -1) as number,
    });
    expect(byHeight[1]).toMatchObject({
      duration_s: expect.closeTo(9, 0) as number,
      period_s: expect.closeTo(907, -1) as number,
    });
  });

  test('a wake-up like no other has no family; wake-ups at random times have no period', () => {
    const f = look(
      9 * H,
      [[0, 20]],
      [
        [3000, 3040, 800],
        [5000, 5041, 810],
        [12000, 12040, 790],
        [13000, 13039, 800],
        [24000, 24040, 805],
        [30000, 30600, 90],
      ],
      sampling,
    );
    expect(f.families).toHaveLength(1);
    expect(f.families[0]!.period_s).toBeNull();
    expect(f.wakeups.at(-1)!.family).toBeNull();
  });
});
