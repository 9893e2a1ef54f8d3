// Takes stretches out of an outsider's night, as a logger that pauses or loses a line does.

import type { Gap, Trace } from '../../../host/capture/types.ts';
import type { Truth } from './outsider.ts';

export interface Columns {
  mean: Float64Array;
  low: Float64Array | null;
  high: Float64Array | null;
  spacing_s: number;
  windows: boolean;
}

/** Takes some stretches out, clear of every edge, single lost samples too; windows know the charge of theirs. */
export function withGaps({ mean, low, high, spacing_s, windows }: Columns, truth: Truth, random: () => number): Trace {
  const n = mean.length;
  const edges = [...truth.steps.map((s) => s.t_s), ...[...truth.wakes, ...truth.dips].flatMap((w) => [w.start_s, w.end_s, ...w.steps.map((s) => s.t_s)])];
  const lost = new Uint8Array(n);
  const gaps: Gap[] = [];
  for (let g = 0; g < 6; g++) {
    const length = Math.max(1, Math.round((g < 3 ? spacing_s : 10 + 600 * random()) / spacing_s));
    const from = 1 + Math.floor(random() * (n - length - 2));
    const [a, b] = [from * spacing_s, (from + length) * spacing_s];
    if (edges.some((t) => t > a - 90 && t < b + 90) || lost.subarray(from - 1, from + length + 1).some((x) => x === 1)) continue;
    lost.fill(1, from, from + length);
    if (!windows) continue;
    let charge = 0;
    for (let i = from; i < from + length; i++) charge += (mean[i]! * spacing_s) / 3600;
    gaps.push({ start_s: a, end_s: b, charge_mAh: charge });
  }
  gaps.sort((x, y) => x.start_s - y.start_s);
  const kept = Float64Array.from({ length: n }, (_, i) => i).filter((i) => lost[i] === 0);
  const pick = (values: Float64Array | null) => (values === null ? null : kept.map((i) => values[i]!));
  return { kind: windows ? 'windows' : 'points', start_ms: null, time: { kind: 'listed', t_s: kept.map((i) => i * spacing_s) }, dur_s: windows ? new Float64Array(kept.length).fill(spacing_s) : null, mean_mA: pick(mean)!, min_mA: pick(low), max_mA: pick(high), gaps };
}
