// A whole capture as one JSON text, and back: every reading as the board sent it, so
// that what comes back is equal to the last digit. Version 2 of this form, which has raw
// conversions and later calibrations; version 1 is read too. Its members are those of
// the tables in SPEC.md.

import { newVoltageColumns, newWindowColumns } from '../format/blocks.ts';
import type { PointColumns, VoltageColumns, WindowColumns } from '../format/blocks.ts';
import * as z from 'zod/mini';
import { aboutOf, factsOf, factsShape, putFacts, putRun } from './facts.ts';
import type { CaptureFacts } from './facts.ts';
import { writeImported } from './import-draft.ts';
import { pointBlock } from '../store/writer.ts';
import { ofEachRun } from '../read/layout.ts';
import { openCapture } from '../read/reader.ts';
import type { Capture, RunFacts } from '../read/reader.ts';
import { linesOfColumns, newRawColumns } from '../format/raw-blocks.ts';
import type { RawColumns } from '../format/raw-blocks.ts';
import type { RawReading, Reading, StatusReading } from '../../contract/capture.ts';

/** Numbers as they are exported; null stands for NaN. Looked at without zod, which takes a second for a night. */
const numbers = z.custom<(number | null)[]>(
  (value) => Array.isArray(value) && value.every((one) => one === null || Number.isFinite(one)),
);
const columnsShape = (empty: object) => z.object(Object.fromEntries(Object.keys(empty).map((key) => [key, numbers])));

const JSON_FORMAT = 'nightdraw capture 2';
const FORMATS_READ: readonly string[] = ['nightdraw capture 1', JSON_FORMAT];

/** One text holds no more: a raw night would be over the longest string that there is. */
const RAW_MAX = 4_000_000;

interface JsonRun extends RunFacts {
  windows: Record<keyof WindowColumns, number[]>;
  voltage: Record<keyof VoltageColumns, (number | null)[]>;
  /** Absent in version 1. `seq` of the line that brought it. */
  raw?: Record<keyof RawColumns, number[]>;
}

interface JsonCapture extends CaptureFacts {
  format: string;
  runs: JsonRun[];
  points: {
    t_s: number[];
    current_mA: (number | null)[];
    min_mA: (number | null)[] | null;
    max_mA: (number | null)[] | null;
    voltage_V: (number | null)[] | null;
  } | null;
  statuses: (StatusReading & { run: number })[];
}

const shape = z.extend(factsShape, {
  runs: z.array(
    z.extend(factsShape.def.shape.runs.def.element, {
      windows: columnsShape(newWindowColumns(0)),
      voltage: columnsShape(newVoltageColumns(0)),
      raw: z.optional(columnsShape(newRawColumns(0))),
    }),
  ),
  points: z.nullable(
    z.object({
      t_s: numbers,
      current_mA: numbers,
      min_mA: z.nullable(numbers),
      max_mA: z.nullable(numbers),
      voltage_V: z.nullable(numbers),
    }),
  ),
  statuses: z.array(z.object({ run: z.int(), seq: z.int(), t_us: z.number(), code: z.string(), detail: z.number() })),
});

/** NaN is null in JSON. */
const listed = (column: Float64Array): (number | null)[] =>
  Array.from(column, (value) => (Number.isNaN(value) ? null : value));
const column = (values: readonly (number | null)[]): Float64Array => Float64Array.from(values, (value) => value ?? NaN);

function columnsOf<C extends object>(columns: C): Record<keyof C, number[]> {
  return Object.fromEntries(
    Object.entries(columns as Record<string, Float64Array>).map(([key, values]) => [key, listed(values)]),
  ) as Record<keyof C, number[]>;
}

/**
 * @param withPersonal whether what names a person or a car is in it
 * @throws Error as `openCapture`, or where it holds more raw conversions than one text can
 */
export function captureAsJson(path: string, withPersonal = false): string {
  const capture = openCapture(path);
  try {
    const { kind, rawSamples } = capture.info();
    if (rawSamples > RAW_MAX)
      throw new Error(
        `${path} holds ${rawSamples} raw conversions and JSON takes ${RAW_MAX} at most; export it as .parquet`,
      );
    const raw = rawOf(capture);
    const points = kind === 'imported' ? capture.points() : null;
    const whole: JsonCapture = {
      format: JSON_FORMAT,
      ...factsOf(capture, withPersonal),
      runs: capture.readings().map(({ windows, voltage, ...facts }) => ({
        ...facts,
        windows: columnsOf(windows),
        voltage: columnsOf(voltage),
        raw: raw.get(facts.run.id) ?? emptyRaw(),
      })),
      points:
        points === null
          ? null
          : {
              t_s: [...points.t_s],
              current_mA: listed(points.current_mA),
              min_mA: points.min_mA && listed(points.min_mA),
              max_mA: points.max_mA && listed(points.max_mA),
              voltage_V: points.voltage_V && listed(points.voltage_V),
            },
      statuses: capture.rawStatuses(),
    };
    return JSON.stringify(whole);
  } finally {
    capture.close();
  }
}

type RawLists = Record<keyof RawColumns, number[]>;
const emptyRaw = (): RawLists => ({ seq: [], t_us: [], units: [], flags: [] });

function rawOf(capture: Capture): Map<number, RawLists> {
  const found = new Map<number, RawLists>();
  for (const { run, lines } of capture.rawLines()) {
    const lists = found.get(run) ?? emptyRaw();
    found.set(run, lists);
    for (const { seq, samples } of lines) {
      for (const { t_us, units, flags } of samples) {
        lists.seq.push(seq);
        lists.t_us.push(t_us);
        lists.units.push(units);
        lists.flags.push(flags);
      }
    }
  }
  return found;
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
  const statuses = ofEachRun(whole.statuses);
  await writeImported(out, aboutOf(whole), async (writer) => {
    if (whole.points !== null)
      samples += putPoints(whole.points, (points) => writer.commitPoints([pointBlock(points)]));
    for (const { windows, voltage, raw, ...facts } of whole.runs) {
      const { run, clock } = facts;
      const id = putRun(writer, facts);
      const readings = [...readingsOf(windows, voltage, statuses.get(run.id) ?? []), ...rawLinesOf(raw ?? emptyRaw())];
      for (let i = 0; i < readings.length; i += BATCH)
        writer.commit({ run: id, readings: readings.slice(i, i + BATCH), clock });
      samples += windows.t_us.length;
    }
    putFacts(writer, whole);
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
  if (!FORMATS_READ.includes(whole?.format))
    throw new Error(
      `${from} is not a capture written by 'nightdraw export' of this version (its format: ${String(whole?.format)})`,
    );
  const checked = shape.safeParse(whole);
  if (!checked.success)
    throw new Error(`${from} is damaged: it has no proper '${checked.error.issues[0]!.path.slice(0, 5).join('.')}'`);
  for (const { windows, voltage, raw } of whole.runs) {
    for (const columns of [windows, voltage, raw ?? emptyRaw()]) {
      const lengths = new Set(Object.values(columns as Record<string, unknown[]>).map((values) => values.length));
      if (lengths.size !== 1) throw new Error(`${from} is damaged: the columns of a run differ in length`);
    }
  }
  return whole;
}

function readingsOf(windows: JsonRun['windows'], voltage: JsonRun['voltage'], statuses: StatusReading[]): Reading[] {
  const rows = <C extends object>(kind: string, columns: C, empty: object): Reading[] => {
    const keys = Object.keys(empty),
      source = columns as unknown as Record<string, (number | null)[]>;
    return source['t_us']!.map(
      (_, i) =>
        Object.fromEntries([['kind', kind], ...keys.map((key) => [key, source[key]![i] ?? NaN])]) as unknown as Reading,
    );
  };
  return [
    ...rows('window', windows, newWindowColumns(0)),
    ...rows('voltage', voltage, newVoltageColumns(0)),
    ...statuses,
  ];
}

const rawLinesOf = ({ seq, t_us, units, flags }: RawLists): RawReading[] =>
  linesOfColumns({
    seq: Float64Array.from(seq),
    t_us: Float64Array.from(t_us),
    units: Int32Array.from(units),
    flags: Uint8Array.from(flags),
  });

function putPoints(points: NonNullable<JsonCapture['points']>, put: (points: PointColumns) => void): number {
  for (let i = 0; i < points.t_s.length; i += POINTS_AT_ONCE) {
    const part = (values: (number | null)[] | null) =>
      values === null ? null : column(values.slice(i, i + POINTS_AT_ONCE));
    put({
      t_s: part(points.t_s)!,
      current_mA: part(points.current_mA)!,
      min_mA: part(points.min_mA),
      max_mA: part(points.max_mA),
      voltage_V: part(points.voltage_V),
    });
  }
  return points.t_s.length;
}
