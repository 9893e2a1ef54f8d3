// Are the stated 95 % of a wake-up's charge and of a period true? Seeded nights with wake-ups of known charge in
// white noise and in noise that remembers itself, as points and as windows; and starts that stray each from the
// one before it, or each from a clock.
import { expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { periodOf } from '../../../host/analysis/wakeups/periods.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import type { Trace } from '../../../host/contract/capture.ts';
import { normalFrom, randomFrom } from './night.ts';

const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
const RUNS = SOAK ? 1000 : 40;
/** Four standard errors of a share of 95 % over so many, in the short form; none in the long one. */
const room = (all: number): number => (SOAK ? 0 : 4 * Math.sqrt((0.95 * 0.05) / all));

const KINDS = [
  { name: 'windows of 50 ms', step_s: 0.05, windows: true, noise_mA: 3, memory: 0 },
  { name: 'points at 1 Hz', step_s: 1, windows: false, noise_mA: 1.5, memory: 0 },
  { name: 'points at 10 Hz, AR(1) of 0.9', step_s: 0.1, windows: false, noise_mA: 1.5, memory: 0.9 },
];

/** 40 min at 20 to 40 mA with three wake-ups of 5 to 90 s and 60 to 600 mA, anywhere between two samples. */
function night({ step_s, windows, noise_mA, memory }: (typeof KINDS)[number], seed: number) {
  const random = randomFrom(seed * 104_729 + 17);
  const normal = normalFrom(random);
  const level_mA = 20 + 20 * random();
  const wakes = [600, 1200, 1800].map((t_s) => {
    const start_s = t_s + 100 * random();
    return { start_s, end_s: start_s + 5 + 85 * random(), height_mA: 60 + 540 * random() };
  });
  const fresh = Math.sqrt(1 - memory * memory);
  let noise = normal();
  const mean_mA = Float64Array.from({ length: Math.floor(2400 / step_s) }, (_, i) => {
    const t_s = i * step_s;
    let mA = level_mA;
    for (const { start_s, end_s, height_mA } of wakes) {
      const covered = windows ? Math.min(end_s, t_s + step_s) - Math.max(start_s, t_s) : 0;
      if (windows) mA += (height_mA * Math.max(0, covered)) / step_s;
      else if (t_s >= start_s && t_s < end_s) mA += height_mA;
    }
    noise = memory * noise + fresh * normal();
    return mA + noise_mA * noise;
  });
  const trace: Trace = {
    kind: windows ? 'windows' : 'points',
    start_ms: null,
    time: { kind: 'regular', step_s },
    dur_s: windows ? new Float32Array(mean_mA.length).fill(step_s) : null,
    mean_mA,
    min_mA: null,
    max_mA: null,
    gaps: [],
  };
  return { trace, wakes };
}

test.each(KINDS)('95 % of the charges are 95 %: $name', (kind) => {
  let [held, all, missed, width] = [0, 0, 0, 0];
  for (let seed = 1; seed <= RUNS; seed++) {
    const { trace, wakes } = night(kind, seed);
    const { wakeups } = analyse(trace, DEFAULT_OPTIONS);
    if (wakeups.length !== wakes.length) {
      missed++;
      continue;
    }
    wakeups.forEach(({ charge_95_mAh: { low, high } }, i) => {
      const { start_s, end_s, height_mA } = wakes[i]!;
      const truth = (height_mA * (end_s - start_s)) / 3600;
      all++;
      width += high - low;
      if (low <= truth && truth <= high) held++;
    });
  }
  console.log(
    `${kind.name}: ${((100 * held) / all).toFixed(1)} % of ${all}, mean width ${((1000 * width) / all).toPrecision(2)} µAh, ${missed} left out`,
  );
  expect(missed).toBeLessThanOrEqual(0.03 * RUNS);
  expect(held / all).toBeGreaterThanOrEqual(0.93 - room(all));
});

test.each([
  ['each strays from the one before it', false],
  ['each strays from a clock', true],
])('95 %% of the periods are 95 %%: %s', (_, byClock) => {
  const random = randomFrom(byClock ? 5 : 6);
  const normal = normalFrom(random);
  let [held, all] = [0, 0];
  for (let run = 0; run < 25 * RUNS; run++) {
    const [period_s, count] = [60 + 3000 * random(), 5 + Math.floor(30 * random())];
    let t_s = 0;
    const starts = Array.from({ length: count }, (__, i) => {
      const stray_s = 0.01 * period_s * normal();
      if (i > 0) t_s += period_s + (byClock ? 0 : stray_s);
      return t_s + (byClock ? stray_s : 0);
    }).filter((__, i) => i === 0 || random() > 0.1);
    const period = periodOf(starts, 0.05);
    if (period === null || Math.abs(period.period_s / period_s - 1) > 0.1) continue;
    all++;
    if (period.period_95_s.low <= period_s && period_s <= period.period_95_s.high) held++;
  }
  console.log(`${((100 * held) / all).toFixed(1)} % of ${all}`);
  expect(all).toBeGreaterThan(20 * RUNS);
  expect(held / all).toBeGreaterThanOrEqual(0.93 - room(all));
});
