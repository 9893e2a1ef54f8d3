// The night while it runs: looks every ten minutes show what `analyse` shows of the same
// samples, the last answer is that of `analyse`, and late looks read no more than early ones.
import { expect, test } from 'vitest';
import type { Trace } from '../../../host/contract/capture.ts';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import type { Findings } from '../../../host/contract/findings.ts';
import { RunningAnalysis } from '../../../host/analysis/night/running.ts';
import { nightOf, traceOf } from './night.ts';
import type { Kind, Sampling } from './night.ts';

const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
const EVERY_S = 600;
const KINDS = ['quiet', 'periodic', 'random', 'latch', 'spells', 'small', 'steady'] as const;
const CASES: [Kind, boolean, number][] = SOAK
  ? KINDS.flatMap((kind) =>
      [1, 2, 3, 4, 5, 6].flatMap((seed): [Kind, boolean, number][] => [
        [kind, true, seed],
        [kind, false, seed],
      ]),
    )
  : KINDS.map((kind, i) => [kind, i % 3 === 2, 1]);

/** Windows of 0.2 s, points at 1 Hz. */
const samplingOf = (windows: boolean): Sampling => ({
  step_s: windows ? 0.2 : 1,
  windows,
  noise_mA: windows ? 0.1 : 0.5,
});

function upTo(trace: Trace, from: number, to: number) {
  const step_s = (trace.time as { step_s: number }).step_s;
  const part = <T extends Float32Array | Float64Array>(values: T | null) => values?.subarray(from, to) ?? null;
  return {
    t_s: Float64Array.from({ length: to - from }, (_, i) => (from + i) * step_s),
    dur_s: part(trace.dur_s),
    mean_mA: trace.mean_mA.subarray(from, to),
    min_mA: part(trace.min_mA),
    max_mA: part(trace.max_mA),
  };
}

function traceUpTo(trace: Trace, to: number): Trace {
  const { t_s, ...rest } = upTo(trace, 0, to);
  return { ...trace, ...rest, time: { kind: 'listed', t_s } };
}

/** What a technician would see differ: how many of each, when, and how much. */
function differences(a: Findings, b: Findings): string[] {
  const out: string[] = [];
  const near = (what: string, x: number, y: number, by: number) => {
    if (!(Math.abs(x - y) <= by)) out.push(`${what} ${x} for ${y}`);
  };
  for (const key of ['steps', 'wakeups', 'dips', 'levels'] as const)
    if (a[key].length !== b[key].length) out.push(`${a[key].length} ${key} for ${b[key].length}`);
  if (out.length > 0) return out;
  a.steps.forEach((s, i) => near('step at', s.t_s, b.steps[i]!.t_s, 1));
  a.steps.forEach((s, i) => near('change', s.to_mA - s.from_mA, b.steps[i]!.to_mA - b.steps[i]!.from_mA, 0.3));
  a.wakeups.forEach((w, i) => near('wake-up at', w.start_s, b.wakeups[i]!.start_s, 1));
  a.wakeups.forEach((w, i) =>
    near('charge', w.charge_mAh, b.wakeups[i]!.charge_mAh, 0.01 * b.wakeups[i]!.charge_mAh + 1e-3),
  );
  a.levels.forEach((l, i) => near('level', l.level_mA, b.levels[i]!.level_mA, 0.2));
  near('asleep after', a.asleep?.after_s ?? -1, b.asleep?.after_s ?? -1, 1);
  near('asleep at', a.asleep?.level_mA ?? 0, b.asleep?.level_mA ?? 0, 0.2);
  near('mean asleep', a.asleep?.mean_mA ?? 0, b.asleep?.mean_mA ?? 0, 1e-3 * (b.asleep?.mean_mA ?? 0) + 1e-9);
  near('total', a.charge.total_mAh, b.charge.total_mAh, 1e-9 * b.charge.total_mAh);
  near(
    'going to sleep',
    a.charge.going_to_sleep_mAh,
    b.charge.going_to_sleep_mAh,
    0.01 * b.charge.going_to_sleep_mAh + 0.01,
  );
  if (a.verdict.code !== b.verdict.code) out.push(`${a.verdict.code} for ${b.verdict.code}`);
  return out;
}

test.each(CASES)('%s, windows %s, seed %d', (kind, windows, seed) => {
  const sampling = samplingOf(windows);
  const trace = traceOf(nightOf(kind, seed), sampling, seed);
  const running = new RunningAnalysis(trace.kind, null, DEFAULT_OPTIONS);
  const count = trace.mean_mA.length,
    each = Math.round(EVERY_S / sampling.step_s);
  const looked: number[] = [];
  let looks = 0;
  for (let from = 0; from < count; from += each) {
    const to = Math.min(count, from + each);
    running.add(upTo(trace, from, to));
    const so_far = running.look();
    looked.push(running.lookedAt);
    // Every sixth look beside an analysis of all so far.
    if (looks++ % 6 === 5)
      expect(
        differences(so_far, analyse(traceUpTo(trace, to), DEFAULT_OPTIONS)),
        `after ${to * sampling.step_s} s`,
      ).toEqual([]);
  }
  expect(running.finish()).toEqual(analyse(traceUpTo(trace, count), DEFAULT_OPTIONS));
  // From the fifth hour on a look costs what it cost then: what is open, and what was not yet worth a cut.
  const hours = (h: number) => looked[Math.round((h * 3600) / EVERY_S) - 1]!;
  expect(Math.max(...looked.slice(24)) / Math.max(hours(3), hours(4))).toBeLessThan(2);
});
