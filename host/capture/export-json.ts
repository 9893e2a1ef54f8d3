// A whole capture as one JSON text, and back: every reading as the board sent it, so
// that what comes back is equal to the last digit. Version 1 of this form; its members
// are those of the tables in SPEC.md.

import { newVoltageColumns, newWindowColumns } from './blocks.ts';
import type { PointColumns, VoltageColumns, WindowColumns } from './blocks.ts';
import { openCapture } from './reader.ts';
import type { BadLine, ClockKnot, Reading, Run, StatusReading } from './types.ts';
import { writeImported } from './import-draft.ts';

export const JSON_FORMAT = 'nightdraw capture 1';

interface JsonRun {
  run: Run;
  clock: ClockKnot[];
  windows: Record<keyof WindowColumns, number[]>;
  voltage: Record<keyof VoltageColumns, (number | null)[]>;
}

interface JsonCapture {
  format: typeof JSON_FORMAT;
  software: string;
  kind: 'recorded' | 'imported';
  created_ms: number;
  /** Wall clock at axis time 0. */
  axis_ms: number | null;
  job: string | null;
  origin: Record<string, unknown> | null;
  runs: JsonRun[];
  points: { t_s: number[]; current_mA: (number | null)[]; min_mA: (number | null)[] | null; max_mA: (number | null)[] | null; voltage_V: (number | null)[] | null } | null;
  statuses: (StatusReading & { run: number })[];
  marks: { axis_us: number; text: string }[];
  badLineCount: number;
  badLines: BadLine[];
}

/** NaN is null in JSON. */
const listed = (column: Float64Array): (number | null)[] => Array.from(column, (value) => (Number.isNaN(value) ? null : value));
const column = (values: readonly (number | null)[]): Float64Array => Float64Array.from(values, (value) => value ?? NaN);

function columnsOf<C extends object>(columns: C): Record<keyof C, number[]> {
  return Object.fromEntries(Object.entries(columns as Record<string, Float64Array>).map(([key, values]) => [key, listed(values)])) as Record<keyof C, number[]>;
}

/** @throws Error as `openCapture` */
export function captureAsJson(path: string): string {
  const capture = openCapture(path);
  try {
    const info = capture.info();
    const points = info.kind === 'imported' ? capture.points() : null;
    const whole: JsonCapture = {
      format: JSON_FORMAT, software: info.software, kind: info.kind, created_ms: info.created_ms, axis_ms: capture.axis_ms(), job: info.job, origin: info.origin,
      runs: capture.readings().map(({ run, clock, windows, voltage }) => ({ run, clock, windows: columnsOf(windows), voltage: columnsOf(voltage) })),
      points: points === null ? null : {
        t_s: [...points.t_s], current_mA: listed(points.current_mA), min_mA: points.min_mA && listed(points.min_mA),
        max_mA: points.max_mA && listed(points.max_mA), voltage_V: points.voltage_V && listed(points.voltage_V),
      },
      statuses: capture.rawStatuses(), marks: capture.axisMarks(), badLineCount: info.badLineCount, badLines: info.badLines,
    };
    return JSON.stringify(whole);
  } finally {
    capture.close();
  }
}

/** Readings written at once. */
const BATCH = 4096;
const POINTS_AT_ONCE = 65_536;

/**
 * Makes a capture of such a text again.
 * @throws Error in one sentence where the text is none, or the file cannot be written
 */
export async function captureFromJson(text: string, from: string, out: string): Promise<{ samples: number }> {
  const whole = parsed(text, from);
  let samples = 0;
  const { kind, software, created_ms, axis_ms, job, origin } = whole;
  await writeImported(out, { kind, software, created_ms, axis_ms, job, origin }, async (writer) => {
    if (whole.points !== null) samples += putPoints(whole.points, (points) => writer.commitPoints(points));
    for (const { run, clock, windows, voltage } of whole.runs) {
      const id = writer.beginRun(run);
      const readings = readingsOf(windows, voltage, whole.statuses.filter((status) => status.run === run.id));
      for (let i = 0; i < readings.length; i += BATCH) writer.commit({ run: id, readings: readings.slice(i, i + BATCH), clock });
      samples += windows.t_us.length;
    }
    writer.addMarks(whole.marks);
    writer.addBadLines(whole.badLines, whole.badLineCount);
    await Promise.resolve();
  });
  return { samples };
}

function parsed(text: string, from: string): JsonCapture {
  let whole: JsonCapture;
  try {
    whole = JSON.parse(text) as JsonCapture;
  } catch (error) {
    throw new Error(`${from} is no JSON (${(error as Error).message})`, { cause: error });
  }
  if (whole?.format !== JSON_FORMAT) throw new Error(`${from} is not a capture written by 'nightdraw export' of this version (its format: ${String(whole?.format)})`);
  for (const { windows, voltage } of whole.runs) {
    for (const columns of [windows, voltage]) {
      const lengths = new Set(Object.values(columns as Record<string, unknown[]>).map((values) => values.length));
      if (lengths.size !== 1) throw new Error(`${from} is damaged: the columns of a run differ in length`);
    }
  }
  return whole;
}

function readingsOf(windows: JsonRun['windows'], voltage: JsonRun['voltage'], statuses: StatusReading[]): Reading[] {
  const rows = <C extends object>(kind: string, columns: C, empty: object): Reading[] => {
    const keys = Object.keys(empty), source = columns as unknown as Record<string, (number | null)[]>;
    return source['t_us']!.map((_, i) => Object.fromEntries([['kind', kind], ...keys.map((key) => [key, source[key]![i] ?? NaN])]) as unknown as Reading);
  };
  return [...rows('window', windows, newWindowColumns(0)), ...rows('voltage', voltage, newVoltageColumns(0)), ...statuses];
}

function putPoints(points: NonNullable<JsonCapture['points']>, put: (points: PointColumns) => void): number {
  for (let i = 0; i < points.t_s.length; i += POINTS_AT_ONCE) {
    const part = (values: (number | null)[] | null) => (values === null ? null : column(values.slice(i, i + POINTS_AT_ONCE)));
    put({ t_s: part(points.t_s)!, current_mA: part(points.current_mA)!, min_mA: part(points.min_mA), max_mA: part(points.max_mA), voltage_V: part(points.voltage_V) });
  }
  return points.t_s.length;
}
