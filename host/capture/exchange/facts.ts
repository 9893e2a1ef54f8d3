// All that a capture says besides its readings, as one object: what every whole export
// carries, and what a capture is made of again.

import * as z from 'zod/mini';
import type { NewCapture } from '../store/create.ts';
import { TIME_MOST_s } from '../format/possible.ts';
import type { Capture, RunFacts } from '../read/reader.ts';
import type { BadLine, BatteryFacts, Calibration, CarFacts, Certificate, Personal } from '../../contract/capture.ts';
import type { CaptureWriter } from '../store/writer.ts';

export interface CaptureFacts {
  software: string;
  kind: 'recorded' | 'imported';
  created_ms: number;
  /** Wall clock at axis time 0. */
  axis_ms: number | null;
  job: string | null;
  origin: Record<string, unknown> | null;
  car?: CarFacts | null;
  battery?: BatteryFacts | null;
  /** Its `by` is empty where names were not asked for. */
  certificate?: Certificate | null;
  /** Only where it was asked for. */
  personal?: Personal;
  calibrations?: Calibration[];
  marks: { axis_us: number; text: string }[];
  badLineCount: number;
  badLines: BadLine[];
}

const time_us = z.number().check(z.gte(-TIME_MOST_s * 1e6), z.lte(TIME_MOST_s * 1e6));

/**
 * `CaptureFacts` and the runs beside them, as far as a capture can be written of them; what their words are is checked
 * as it is opened.
 */
export const factsShape = z.looseObject({
  software: z.string(),
  kind: z.enum(['recorded', 'imported']),
  created_ms: z.number(),
  axis_ms: z.nullable(z.number()),
  job: z.nullable(z.string()),
  origin: z.nullable(z.record(z.string(), z.unknown())),
  marks: z.array(z.object({ axis_us: time_us, text: z.string() })),
  badLineCount: z.number(),
  badLines: z.array(z.object({ wall_ms: z.number(), reason: z.string(), line: z.string() })),
  certificate: z.optional(
    z.nullable(
      z.object({
        checked_ms: z.number(),
        by: z.string(),
        share_ppm: z.number(),
        zero_uA: z.number(),
        cal_gen: z.number(),
      }),
    ),
  ),
  calibrations: z.optional(
    z.array(
      z.object({
        made_ms: z.number(),
        reason: z.string(),
        shunt_nOhm: z.nullable(z.number()),
        gain_ppm: z.nullable(z.number()),
        offset_nV: z.nullable(z.number()),
      }),
    ),
  ),
  runs: z.array(
    z.looseObject({
      run: z.looseObject({ id: z.int(), reason: z.string(), began_ms: z.number(), hello: z.looseObject({}) }),
      clock: z.array(z.object({ t_us: time_us, axis_us: time_us })),
      doubt_s: z.optional(z.nullable(z.number())),
    }),
  ),
});

/** @param withPersonal whether what names a person or a car is in it, the note on the car included */
export function factsOf(capture: Capture, withPersonal: boolean): CaptureFacts {
  const { software, kind, created_ms, job, origin, car, battery, certificate, calibrations, badLineCount, badLines } =
    capture.info();
  const { note, ...nameless } = car ?? {};
  return {
    software,
    kind,
    created_ms,
    axis_ms: capture.axis_ms(),
    job,
    origin,
    car: car === null ? null : withPersonal && note !== undefined ? { ...nameless, note } : nameless,
    battery,
    ...(certificate ? { certificate: { ...certificate, by: withPersonal ? certificate.by : '' } } : {}),
    calibrations,
    marks: capture.axisMarks(),
    badLineCount,
    badLines,
    ...(withPersonal ? { personal: capture.personal() } : {}),
  };
}

/** What a new capture is made with. */
export function aboutOf(facts: CaptureFacts): NewCapture {
  const { kind, software, created_ms, axis_ms, job, origin, personal, certificate = null } = facts;
  return {
    kind,
    software,
    created_ms,
    axis_ms,
    job,
    origin,
    certificate,
    ...(personal === undefined ? {} : { personal }),
  };
}

/** Puts in what does not stand in `aboutOf`. */
export function putFacts(
  writer: CaptureWriter,
  { car, battery, calibrations, marks, badLines, badLineCount }: CaptureFacts,
): void {
  writer.describe({ ...(car ? { car } : {}), ...(battery ? { battery } : {}) });
  writer.addCalibrations(calibrations ?? []);
  writer.addMarks(marks);
  writer.addBadLines(badLines, badLineCount);
}

/** Begins a run as it was. @returns its number in the new capture */
export function putRun(writer: CaptureWriter, { run, doubt_s }: RunFacts): number {
  const id = writer.beginRun(run, doubt_s === undefined ? 0 : doubt_s);
  if (run.limits !== undefined && run.limits !== null) writer.describeRun(id, { limits: run.limits });
  return id;
}
