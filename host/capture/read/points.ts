// Imported points as a trace and a voltage: times counted from the first one.

import type { PointColumns } from '../format/blocks.ts';
import { gapsOfPoints } from './timeline.ts';
import type { Trace, VoltageTrace } from '../../contract/capture.ts';

/** Points as the analysis reads them: gaps are found by their spacing. */
export function traceOfPoints(points: PointColumns, start_ms: number | null): Trace {
  const t_s = fromFirst(points.t_s);
  return {
    kind: 'points',
    start_ms,
    time: { kind: 'listed', t_s },
    dur_s: null,
    mean_mA: points.current_mA,
    min_mA: points.min_mA,
    max_mA: points.max_mA,
    gaps: gapsOfPoints(t_s),
  };
}

/** The voltage column of imported points without its blank cells; null where there is none. */
export function voltageOfPoints(points: PointColumns): VoltageTrace | null {
  const { voltage_V } = points;
  if (voltage_V === null) return null;
  const t_s = fromFirst(points.t_s);
  const filled = (_: number, i: number) => !Number.isNaN(voltage_V[i]!);
  return { t_s: t_s.filter(filled), voltage_V: voltage_V.filter(filled), temp_C: null };
}

function fromFirst(t_s: Float64Array): Float64Array {
  const first = t_s[0] ?? 0;
  return first === 0 ? t_s : t_s.map((t) => t - first);
}
