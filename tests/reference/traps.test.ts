// Ten signals that trap plain step detectors, each with 30 true changes of 2 to 6 sigma
// in 2e5 samples. Measured with the published programs on signals of these kinds, mean
// spurious changes of FPOP / biweight FPOP: spikes 393 / 0, pulses 196 / 195, t3 noise
// 1274 / 0, AR(1) of 0.5 1462 / 835 and of 0.9 over 9500, growing noise 271 / 44, drift
// 29 / 29, random walk 45 / 45; with coarse codes the MAD is 0 and both fail. The
// generators are our own. A sample stands for a window of 50 ms.

import { describe, expect, test } from 'vitest';
import { analyse } from '../../host/analysis/night/analyse.ts';
import type { Trace } from '../../host/contract/capture.ts';
import { normalFrom, randomFrom } from '../unit/analysis/night.ts';

const SAMPLES = 200_000;
const CHANGES = 30;
const STEP_S = 0.05;
/** A found edge belongs to a true change within so many samples; one farther than a pulse is long is spurious. */
const NEAR = 50;
const FAR = 100;

interface Signal {
  changes: number[];
  level: Float64Array;
}

function signalOf(random: () => number): Signal {
  const changes: number[] = [];
  const spacing = SAMPLES / (CHANGES + 1);
  for (let i = 1; i <= CHANGES; i++) changes.push(Math.round(spacing * i + (random() - 0.5) * 0.8 * spacing));
  const level = new Float64Array(SAMPLES);
  let now = 0;
  let k = 0;
  for (let i = 0; i < SAMPLES; i++) {
    if (i === changes[k]) {
      const jump = (2 + 4 * random()) * (random() < 0.5 ? -1 : 1);
      now += Math.abs(now + jump) > 12 ? -jump : jump;
      k++;
    }
    level[i] = now;
  }
  return { changes, level };
}

type Make = (level: Float64Array, normal: () => number, random: () => number) => Float64Array;

function withMemory(rho: number): Make {
  return (level, normal) => {
    let noise = 0;
    return level.map((v) => v + (noise = rho * noise + normal() * Math.sqrt(1 - rho * rho)));
  };
}

const ROWS: [string, Make][] = [
  ['clean', (level, normal) => level.map((v) => v + normal())],
  [
    '0.1 % spikes',
    (level, normal, random) =>
      level.map((v) => v + normal() + (random() < 0.001 ? (random() < 0.5 ? -1 : 1) * (10 + 20 * random()) : 0)),
  ],
  [
    '100 pulses of 20 to 80 samples, 15 sigma',
    (level, normal, random) => {
      const x = level.map((v) => v + normal());
      for (let p = 0; p < 100; p++) {
        const from = Math.floor(random() * (SAMPLES - 100));
        const to = from + 20 + Math.floor(61 * random());
        for (let i = from; i < to; i++) x[i]! += 15;
      }
      return x;
    },
  ],
  [
    't3 noise',
    (level, normal) => level.map((v) => v + normal() / Math.sqrt(normal() ** 2 + normal() ** 2 + normal() ** 2)),
  ],
  ['AR(1) of 0.5', withMemory(0.5)],
  ['AR(1) of 0.9', withMemory(0.9)],
  ['codes of 4 sigma', (level, normal) => level.map((v) => Math.round((v + normal()) / 4) * 4)],
  ['sigma grows with level', (level, normal) => level.map((v) => v + normal() * (1 + Math.abs(v) / 4))],
  ['drift of 10 sigma', (level, normal) => level.map((v, i) => v + normal() + (10 * i) / SAMPLES)],
  [
    'random walk of 4 sigma',
    (level, normal) => {
      let walk = 0;
      return level.map((v) => v + normal() + (walk += (4 * normal()) / Math.sqrt(SAMPLES)));
    },
  ],
];

function edgesOf(x: Float64Array): number[] {
  const trace: Trace = {
    kind: 'points',
    start_ms: null,
    time: { kind: 'regular', step_s: STEP_S },
    dur_s: null,
    mean_mA: x,
    min_mA: null,
    max_mA: null,
    gaps: [],
  };
  const found = analyse(trace, { allowance_mA: 50, step_mA: 1.6, hold_s: 20, rise_mA: 8 });
  const long = [...found.wakeups, ...found.dips].filter((w) => w.end_s - w.start_s > 20);
  const times = [
    ...found.steps.map((s) => s.t_s),
    ...long.flatMap((w) => [w.start_s, w.end_s, ...w.steps.map((s) => s.t_s)]),
  ];
  return [...new Set(times.map((t) => Math.round(t / STEP_S)))];
}

describe('traps', () => {
  const seeds = process.env['NIGHTDRAW_SOAK'] === '1' ? 40 : 6;
  test.each(ROWS)('%s', (_, make) => {
    let found = 0;
    let spurious = 0;
    for (let seed = 1; seed <= seeds; seed++) {
      const random = randomFrom(seed * 7919);
      const normal = normalFrom(random);
      const { changes, level } = signalOf(random);
      const edges = edgesOf(make(level, normal, random));
      found += changes.filter((c) => edges.some((e) => Math.abs(e - c) <= NEAR)).length;
      spurious += edges.filter((e) => changes.every((c) => Math.abs(e - c) > FAR)).length;
    }
    expect(found / seeds, `mean found of ${CHANGES}, seeds 1 to ${seeds}`).toBeGreaterThanOrEqual(29);
    expect(spurious / seeds, `mean spurious, seeds 1 to ${seeds}`).toBeLessThanOrEqual(0.3);
  });
});
