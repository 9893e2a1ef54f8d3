// Recorded currents with known edges. Series, truth and licences: data/SOURCES.md.

import { describe, expect, test } from 'vitest';
import { analyse } from '../../host/analysis/analyse.ts';
import { DEFAULT_OPTIONS } from '../../host/analysis/findings.ts';
import { edgesOf, readSeries, score } from './open-data.ts';

describe.each(['lab_2load_a', 'lab_3load_a'])('%s', (name) => {
  // lab_*: github.com/kehkok/nilmtk-ukdale, MIT.
  test('every edge is found and none invented, but for pulses at a motor start', () => {
    const { trace, origin_s, truth } = readSeries(name);
    const found = analyse(trace, { ...DEFAULT_OPTIONS, hold_s: 3, step_mA: 500, rise_mA: 500 });
    const { missed, extra } = score(edgesOf(found, origin_s), truth.steps.map((s) => s.t_s), truth.tolerance_s);
    const motorStarts = truth.steps.filter((s) => s.kind === 'on' && s.source === 'vacuum').map((s) => s.t_s);
    expect(missed).toEqual([]);
    expect(extra.filter((e) => !motorStarts.some((t) => e.t_s >= t && e.t_s <= t + 3))).toEqual([]);
  });
});

test('tracebase_fridge_24h: 95 % of the edges with default options, at most one more above 100 mA', () => {
  // github.com/areinhardt/tracebase, ODbL 1.0.
  const { trace, origin_s, truth } = readSeries('tracebase_fridge_24h');
  const found = analyse(trace, DEFAULT_OPTIONS);
  const { missed, extra } = score(edgesOf(found, origin_s), truth.steps.map((s) => s.t_s), truth.tolerance_s);
  expect(missed.length).toBeLessThanOrEqual(0.05 * truth.steps.length);
  expect(extra.filter((e) => Math.abs(e.size_mA) > 100).length).toBeLessThanOrEqual(1);
  expect(found.dips).toEqual([]);
  const compressor = found.families.reduce((a, b) => (b.count > a.count ? b : a));
  expect(compressor.count).toBe(truth.steps.length / 2);
});

test('well_log: the ten changes that most annotators marked', () => {
  // github.com/alan-turing-institute/TCPD, MIT. One sample a second; steps of 4 and more held for 9 samples.
  const { trace, origin_s, truth } = readSeries('well_log');
  const found = analyse(trace, { ...DEFAULT_OPTIONS, hold_s: 9, step_mA: 4, rise_mA: 6 });
  const { missed, extra } = score(edgesOf(found, origin_s), truth.steps.map((s) => s.t_s), truth.tolerance_s);
  expect(missed).toEqual([]);
  expect(extra.filter((e) => e.what !== 'inner').length).toBeLessThanOrEqual(6);
});
