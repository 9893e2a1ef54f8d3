// Are the stated 95 % true? Seeded nights of a few known levels in white noise, in noise
// that remembers itself (AR(1)) and in noise that grows with the load, as points and as
// windows: how often the intervals of sizes, levels and times hold what was put in.
// 2000 runs in the long form; a few in the short one, with the room that so few need.
import { expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import type { Interval } from '../../../host/contract/findings.ts';
import { studentQuantile } from '../../../host/analysis/levels/intervals.ts';
import type { Trace } from '../../../host/contract/capture.ts';
import { normalFrom, randomFrom } from './night.ts';

const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
const RUNS = SOAK ? 2000 : 60;
const OPTIONS = { allowance_mA: 50, step_mA: 5, hold_s: 20, rise_mA: 20 };

interface Kind {
  name: string;
  step_s: number;
  windows: boolean;
  /** Of a sample. */
  noise_mA: number;
  /** Correlation of neighbouring samples. */
  memory: number;
  /** Noise is so many times more at 1 A than at none, less one. */
  grows: number;
}

const KINDS: Kind[] = [
  { name: 'windows of 50 ms, white', step_s: 0.05, windows: true, noise_mA: 0.4, memory: 0, grows: 0 },
  { name: 'windows of 50 ms, noisy', step_s: 0.05, windows: true, noise_mA: 12, memory: 0, grows: 0 },
  { name: 'points at 1 Hz, white', step_s: 1, windows: false, noise_mA: 2, memory: 0, grows: 0 },
  { name: 'points at 10 Hz, AR(1) of 0.9', step_s: 0.1, windows: false, noise_mA: 2, memory: 0.9, grows: 0 },
  { name: 'points at 1 Hz, AR(1) of 0.5', step_s: 1, windows: false, noise_mA: 1.2, memory: 0.5, grows: 0 },
  {
    name: 'windows of 200 ms, noise growing with the load',
    step_s: 0.2,
    windows: true,
    noise_mA: 1,
    memory: 0,
    grows: 4,
  },
];

interface Made {
  trace: Trace;
  levels: { start_s: number; mA: number }[];
}

/**
 * 70 min: four to eight levels, each held from 3 to 20 min, with steps of 12 to 42 mA, all up or all down: a rise that
 * comes back would be a wake-up.
 */
function made(kind: Kind, seed: number): Made {
  const random = randomFrom(seed * 7919 + 13);
  const normal = normalFrom(random);
  const duration_s = 4200;
  const way = random() < 0.5 ? -1 : 1;
  const levels = [{ start_s: 0, mA: 400 + 100 * random() }];
  for (;;) {
    const start_s = levels.at(-1)!.start_s + 180 + 1000 * random();
    if (start_s > duration_s - 180) break;
    levels.push({ start_s, mA: levels.at(-1)!.mA + way * (12 + 30 * random()) });
  }
  const { step_s, windows, noise_mA, memory, grows } = kind;
  const mean_mA = new Float64Array(Math.floor(duration_s / step_s));
  const fresh = Math.sqrt(1 - memory * memory);
  let noise = normal();
  let k = 0;
  for (let i = 0; i < mean_mA.length; i++) {
    const from_s = i * step_s;
    while (k + 1 < levels.length && levels[k + 1]!.start_s <= from_s) k++;
    const next = levels[k + 1];
    const share = windows && next !== undefined ? Math.max(0, (from_s + step_s - next.start_s) / step_s) : 0;
    const mA = levels[k]!.mA + share * ((next?.mA ?? 0) - levels[k]!.mA);
    noise = memory * noise + fresh * normal();
    mean_mA[i] = mA + noise * noise_mA * (1 + (grows * mA) / 1000);
  }
  const dur_s = windows ? new Float32Array(mean_mA.length).fill(step_s) : null;
  return {
    levels,
    trace: {
      kind: windows ? 'windows' : 'points',
      start_ms: null,
      time: { kind: 'regular', step_s },
      dur_s,
      mean_mA,
      min_mA: null,
      max_mA: null,
      gaps: [],
    },
  };
}

interface Tally {
  held: number;
  all: number;
  widths: number[];
}

const tally = (): Tally => ({ held: 0, all: 0, widths: [] });

function count(to: Tally, { low, high }: Interval, truth: number): void {
  to.all++;
  to.widths.push(high - low);
  if (low <= truth && truth <= high) to.held++;
}

function run(kind: Kind): { levels: Tally; sizes: Tally; times: Tally; missed: number } {
  const [levels, sizes, times] = [tally(), tally(), tally()];
  let missed = 0;
  for (let seed = 1; seed <= RUNS; seed++) {
    const { trace, levels: truth } = made(kind, seed);
    const found = analyse(trace, OPTIONS);
    // A run in which another number of levels is found says nothing of intervals: counted, and asserted to be rare.
    if (found.levels.length !== truth.length || found.steps.length !== truth.length - 1) {
      missed++;
      continue;
    }
    found.levels.forEach(({ level_95_mA }, i) => count(levels, level_95_mA, truth[i]!.mA));
    found.steps.forEach(({ t_95_s, change_95_mA }, i) => {
      count(sizes, change_95_mA, truth[i + 1]!.mA - truth[i]!.mA);
      count(times, t_95_s, truth[i + 1]!.start_s);
    });
  }
  return { levels, sizes, times, missed };
}

const share = ({ held, all }: Tally): number => held / all;
const median = (values: number[]): number => values.sort((a, b) => a - b)[values.length >> 1]!;
/** Four standard errors of a share of 95 % over so many, in the short form; none in the long one. */
const room = ({ all }: Tally): number => (SOAK ? 0 : 4 * Math.sqrt((0.95 * 0.05) / all));

test.each(KINDS)(
  '95 % are 95 %: $name',
  (kind) => {
    const { levels, sizes, times, missed } = run(kind);
    console.log(
      `${kind.name}: of ${RUNS} runs ${missed} left out; ` +
        (
          [
            ['levels', levels, 'mA'],
            ['sizes', sizes, 'mA'],
            ['times', times, 's'],
          ] as const
        )
          .map(
            ([what, t, unit]) =>
              `${what} ${(100 * share(t)).toFixed(1)} % of ${t.all}, median width ${median(t.widths).toPrecision(2)} ${unit}`,
          )
          .join('; '),
    );
    expect(missed).toBeLessThanOrEqual(0.03 * RUNS);
    for (const t of [levels, sizes]) {
      expect(share(t)).toBeGreaterThanOrEqual(0.93 - room(t));
      expect(share(t)).toBeLessThanOrEqual(0.97 + room(t));
    }
    expect(share(times)).toBeGreaterThanOrEqual(0.93 - room(times));
  },
  SOAK ? 900_000 : 60_000,
);

// Student's t at 97.5 %: Abramowitz and Stegun, table 26.10, as in every handbook.
test.each([
  [3, 3.182],
  [5, 2.571],
  [10, 2.228],
  [30, 2.042],
  [120, 1.98],
])('t of %d degrees of freedom is %d', (freedom, t) => {
  expect(studentQuantile(freedom)).toBeGreaterThan(t * 0.99);
  expect(studentQuantile(freedom)).toBeLessThan(t * 1.01);
});
