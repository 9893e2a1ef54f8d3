// Recorded currents with known edges. Series, truth and licences: data/SOURCES.md.

import { describe, expect, test } from 'vitest';
import { analyse } from '../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../host/contract/settings.ts';
import { edgesOf, readSeries, score } from './open-data.ts';

describe.each(['lab_2load_a', 'lab_3load_a'])('%s', (name) => {
  // lab_*: github.com/kehkok/nilmtk-ukdale, MIT.
  test('every edge of 500 mA and more is found, and none invented', () => {
    const { trace, origin_s, truth } = readSeries(name);
    const found = analyse(trace, { ...DEFAULT_OPTIONS, hold_s: 3, step_mA: 500, rise_mA: 500 });
    const { missed, extra } = score(
      edgesOf(found, origin_s),
      truth.steps.map((s) => s.t_s),
      truth.tolerance_s,
    );
    expect([missed, extra]).toEqual([[], []]);
  });
});

test('tracebase_fridge_24h: all edges but one with default options, at most one more above 100 mA, and small ones in its decays', () => {
  // github.com/areinhardt/tracebase, ODbL 1.0.
  const { trace, origin_s, truth } = readSeries('tracebase_fridge_24h');
  const found = analyse(trace, DEFAULT_OPTIONS);
  const { missed, extra } = score(
    edgesOf(found, origin_s),
    truth.steps.map((s) => s.t_s),
    truth.tolerance_s,
  );
  expect(missed.length).toBeLessThanOrEqual(1);
  expect(extra.filter((e) => Math.abs(e.size_mA) > 100).length).toBeLessThanOrEqual(1);
  // Default options ask for steps of 5 mA, of a meter that shows 4 to 9 mA.
  expect(extra.length).toBeLessThanOrEqual(50);
  expect(found.dips).toEqual([]);
  const compressor = found.families.reduce((a, b) => (b.count > a.count ? b : a));
  expect(compressor.count).toBe(truth.steps.length / 2);
});

test('tracebase_fridge_24h: asked for steps of 100 mA, as its truth is, every edge and no other', () => {
  const { trace, origin_s, truth } = readSeries('tracebase_fridge_24h');
  const found = analyse(trace, { ...DEFAULT_OPTIONS, step_mA: 100, rise_mA: 100 });
  const { missed, extra } = score(
    edgesOf(found, origin_s),
    truth.steps.map((s) => s.t_s),
    truth.tolerance_s,
  );
  expect([missed, extra]).toEqual([[], []]);
});

test('well_log: F1 of 0.95 on the changes that most annotators marked', () => {
  // github.com/alan-turing-institute/TCPD, MIT. One sample a second; steps of 4 and more held for 9 samples.
  // A rock has no wake-ups: a rise that comes back is two steps here, so the smallest wake-up lies over all of them.
  const { trace, origin_s, truth } = readSeries('well_log');
  const found = analyse(trace, { ...DEFAULT_OPTIONS, hold_s: 9, step_mA: 4, rise_mA: 1000 });
  const { missed, extra } = score(
    edgesOf(found, origin_s),
    truth.steps.map((s) => s.t_s),
    truth.tolerance_s,
  );
  const hit = truth.steps.length - missed.length;
  expect((2 * hit) / (2 * hit + missed.length + extra.length)).toBeGreaterThanOrEqual(0.95);
});

test('channel_10kHz: every burst, and none else', () => {
  // github.com/RichardBJ/Deep-Channel, MIT. Bursts as its truth groups them: with less than 20 ms between their pulses.
  const TOGETHER_S = 0.02;
  const { trace, origin_s, truth } = readSeries('channel_10kHz');
  const found = analyse(trace, { ...DEFAULT_OPTIONS, hold_s: TOGETHER_S, step_mA: 5, rise_mA: 5 });
  const bursts: { start_s: number; end_s: number }[] = [];
  for (const { start_s, end_s } of found.wakeups) {
    const last = bursts.at(-1);
    if (last !== undefined && start_s + origin_s - last.end_s < TOGETHER_S) last.end_s = end_s + origin_s;
    else bursts.push({ start_s: start_s + origin_s, end_s: end_s + origin_s });
  }
  expect([found.steps.length, found.dips.length, bursts.length]).toEqual([0, 0, truth.bursts!.length]);
  const off_s = truth.bursts!.map((b, i) =>
    Math.max(Math.abs(bursts[i]!.start_s - b.start_s), Math.abs(bursts[i]!.end_s - b.end_s)),
  );
  truth.bursts!.forEach((b, i) =>
    expect(bursts[i]!.start_s < b.end_s && bursts[i]!.end_s > b.start_s, `burst ${i}`).toBe(true),
  );
  // A burst that begins with flickers of a sample or two begins later for us: 7 ms at worst, nine of ten are within 2
  // ms.
  expect(off_s.filter((off) => off <= 0.002).length).toBeGreaterThanOrEqual(0.9 * off_s.length);
  expect(Math.max(...off_s)).toBeLessThan(0.008);
});
