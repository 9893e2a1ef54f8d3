// Builds a night with everything beside its current: what is wrong with the reading, the
// battery voltage, the temperature, gaps. Invented; the current itself from ../night.ts.

import type { Gap, Trace, VoltageTrace } from '../../../../host/contract/capture.ts';
import { interpret, optionsFrom } from '../../../../host/analysis/meaning/interpret.ts';
import type { NightMeaning, NightSource } from '../../../../host/analysis/meaning/interpret.ts';
import type { Told } from '../../../../host/contract/settings.ts';
import { traceOf } from '../night.ts';
import type { Sampling } from '../night.ts';

export const H = 3600;
export const MIN = 60;

export type Landing = [t_s: number, level_mA: number];
export type Burst = [start_s: number, end_s: number, height_mA: number];

export interface Scene {
  hours: number;
  base: Landing[];
  bursts?: Burst[];
  sampling?: Partial<Sampling>;
  /** What the meter makes of the true current. */
  reads?: (mA: number, t_s: number) => number;
  /** Local time at which it begins; without it the night has no clock. */
  starts?: { hour: number; minute: number };
  /** Battery voltage without load, and what it gives way by. */
  volts?: { rested_V: (t_s: number) => number; ohms?: number };
  temp_C?: (t_s: number) => number;
  gaps?: Gap[];
  fullScale_mA?: number;
  statuses?: { t_s: number; code: string }[];
  told?: Told;
}

/** Going to sleep in the usual way, asleep at `after_s`. */
export function stairs(after_s: number, asleep_mA: number): Landing[] {
  return [
    [0, 900 + asleep_mA],
    [after_s * 0.2, 420 + asleep_mA],
    [after_s * 0.6, 150 + asleep_mA],
    [after_s, asleep_mA],
  ];
}

export function every(
  first_s: number,
  period_s: number,
  until_s: number,
  length_s: number,
  height_mA: number,
): Burst[] {
  const bursts: Burst[] = [];
  for (let t = first_s; t + length_s < until_s; t += period_s) bursts.push([t, t + length_s, height_mA]);
  return bursts;
}

/** A door opened at `start_s`: the whole car wakes, and goes to sleep again within 20 min. */
export function doorOpened(start_s: number): Burst[] {
  return [
    [start_s, start_s + 180, 1400],
    [start_s + 180, start_s + 600, 500],
    [start_s + 600, start_s + 1200, 160],
  ];
}

const SAMPLING: Sampling = { step_s: 1, windows: true, noise_mA: 0.2 };

function distort(trace: Trace, reads: (mA: number, t_s: number) => number, step_s: number): void {
  for (const values of [trace.mean_mA, trace.min_mA, trace.max_mA])
    values?.forEach((mA, i) => (values[i] = reads(mA, i * step_s)));
  const { min_mA, max_mA } = trace;
  if (min_mA === null || max_mA === null) return;
  min_mA.forEach((low, i) => ([min_mA[i], max_mA[i]] = [Math.min(low, max_mA[i]!), Math.max(low, max_mA[i]!)]));
}

/** Takes out what lies in gaps. */
function cut(trace: Trace, gaps: Gap[], step_s: number): Trace {
  if (gaps.length === 0) return trace;
  const kept = Array.from({ length: trace.mean_mA.length }, (_, i) => i).filter(
    (i) => !gaps.some((g) => i * step_s >= g.start_s && i * step_s < g.end_s),
  );
  const pick = (values: Trace['min_mA']) => (values === null ? null : Float64Array.from(kept, (i) => values[i]!));
  return {
    ...trace,
    time: { kind: 'listed', t_s: Float64Array.from(kept, (i) => i * step_s) },
    dur_s: pick(trace.dur_s),
    mean_mA: pick(trace.mean_mA)!,
    min_mA: pick(trace.min_mA),
    max_mA: pick(trace.max_mA),
    gaps,
  };
}

function voltageOf(scene: Scene, trace: Trace, step_s: number): VoltageTrace | null {
  const { volts, temp_C } = scene;
  if (volts === undefined && temp_C === undefined) return null;
  const every_s = 5;
  const count = Math.floor((trace.mean_mA.length * step_s) / every_s);
  const t_s = Float64Array.from({ length: count }, (_, i) => i * every_s);
  const mA = (t: number) => trace.mean_mA[Math.round(t / step_s)]!;
  return {
    t_s,
    voltage_V: t_s.map((t) => (volts === undefined ? NaN : volts.rested_V(t) - (mA(t) / 1000) * (volts.ohms ?? 0.01))),
    temp_C: temp_C === undefined ? null : t_s.map((t) => temp_C(t)),
  };
}

export function startOf({ starts }: Scene): number | null {
  return starts === undefined ? null : new Date(2026, 10, 24, starts.hour, starts.minute).getTime();
}

export function sourceOf(scene: Scene, seed: number): NightSource {
  const sampling = { ...SAMPLING, ...scene.sampling };
  const plan = {
    duration_s: scene.hours * H,
    base: scene.base.map(([t_s, level_mA]) => ({ t_s, level_mA })),
    bursts: (scene.bursts ?? []).map(([start_s, end_s, height_mA]) => ({ start_s, end_s, height_mA })),
  };
  const trace = traceOf(plan, sampling, seed);
  const voltage = voltageOf(scene, trace, sampling.step_s);
  if (scene.reads !== undefined) distort(trace, scene.reads, sampling.step_s);
  return {
    trace: { ...cut(trace, scene.gaps ?? [], sampling.step_s), start_ms: startOf(scene) },
    voltage,
    fullScale_mA: scene.fullScale_mA ?? null,
    statuses: scene.statuses ?? [],
  };
}

export function meaningOf(scene: Scene, seed = 11): NightMeaning {
  return interpret(sourceOf(scene, seed), optionsFrom(scene.told ?? {}));
}
