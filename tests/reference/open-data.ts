// Reads the open series and their truth for the reference tests, and scores edges by
// the words of the truth files. An edge is a step, a wake-up's or a dip's start or end,
// or a step inside one.

import { readFileSync } from 'node:fs';
import type { Findings } from '../../host/contract/findings.ts';
import type { Trace } from '../../host/contract/capture.ts';

const folder = new URL('./data/', import.meta.url);

export interface Truth {
  steps: { t_s: number; from: number; to: number; kind?: string; source?: string }[];
  pulses: { start_s: number; end_s: number }[];
  bursts?: { start_s: number; end_s: number }[];
  tolerance_s: number;
}

export function readSeries(name: string): { trace: Trace; origin_s: number; truth: Truth } {
  const rows = readFileSync(new URL(`${name}.csv`, folder), 'utf8')
    .trim()
    .split('\n')
    .slice(1);
  const values = rows.map((row) => row.split(',').map(Number));
  const t_s = Float64Array.from(values, (v) => v[0]!);
  const mean_mA = Float64Array.from(values, (v) => v[1]!);
  const trace: Trace = {
    kind: 'points',
    start_ms: null,
    time: { kind: 'listed', t_s },
    dur_s: null,
    mean_mA,
    min_mA: null,
    max_mA: null,
    gaps: [],
  };
  return {
    trace,
    origin_s: t_s[0]!,
    truth: JSON.parse(readFileSync(new URL(`${name}.truth.json`, folder), 'utf8')) as Truth,
  };
}

export interface Edge {
  t_s: number;
  /** Change of current across it; of a wake-up's edge, its peak over the current at rest, 0 in these series. */
  size_mA: number;
  what: string;
}

export function edgesOf(found: Findings, origin_s: number): Edge[] {
  const edges: Edge[] = found.steps.map((s) => ({ t_s: s.t_s, size_mA: s.to_mA - s.from_mA, what: 'step' }));
  for (const x of [...found.wakeups, ...found.dips]) {
    edges.push(
      { t_s: x.start_s, size_mA: x.peak_mA, what: 'start' },
      { t_s: x.end_s, size_mA: -x.peak_mA, what: 'end' },
    );
    for (const s of x.steps) edges.push({ t_s: s.t_s, size_mA: s.to_mA - s.from_mA, what: 'inner' });
  }
  return edges.map((e) => ({ ...e, t_s: e.t_s + origin_s })).sort((a, b) => a.t_s - b.t_s);
}

/** Pairs each true time with the nearest unused edge within the tolerance. */
export function score(edges: Edge[], times_s: number[], tolerance_s: number): { missed: number[]; extra: Edge[] } {
  const used = new Set<Edge>();
  const missed: number[] = [];
  for (const t_s of times_s) {
    const near = edges.filter((e) => !used.has(e) && Math.abs(e.t_s - t_s) <= tolerance_s);
    const best = near.sort((a, b) => Math.abs(a.t_s - t_s) - Math.abs(b.t_s - t_s))[0];
    if (best === undefined) missed.push(t_s);
    else used.add(best);
  }
  return { missed, extra: edges.filter((e) => !used.has(e)) };
}
