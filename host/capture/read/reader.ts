// Reads a capture: what it says of itself, its trace for the analysis, and an
// overview of any stretch for drawing. The only file that outsiders open captures with.

import type { PointColumns, VoltageColumns, WindowColumns } from '../format/blocks.ts';
import { layoutOf, ofEachRun } from './layout.ts';
import type { Layout } from './layout.ts';
import { overviewOf } from './overview.ts';
import { traceOfPoints, voltageOfPoints } from './points.ts';
import { linesOfColumns, newRawColumns } from '../format/raw-blocks.ts';
import { rawTrace } from './raw-trace.ts';
import { rowsOf } from './rows.ts';
import type { Rows } from './rows.ts';
import { damaged, isDatabaseError, openForReading, openIfDatabase } from '../format/schema.ts';
import type { Db, OpenedReader } from '../format/schema.ts';
import { Stored } from './stored.ts';
import { steadyTrace } from './steady-trace.ts';
import { corrected, placedWindows } from './window-trace.ts';
import type {
  CaptureInfo,
  ClockKnot,
  Mark,
  Bins,
  Personal,
  RawReading,
  Run,
  StatusReading,
  Trace,
  VoltageTrace,
  Waveform,
} from '../../contract/capture.ts';
import { waveformsBetween } from './waveforms.ts';

/** An opened capture. Reading is done anew at each call, so that a running recording is seen to grow. */
export interface Capture {
  info(): CaptureInfo;
  /** The whole current. Zero samples are possible where a recording was stopped at once. */
  trace(): Trace;
  /** Battery voltage, null where there is none. */
  voltage(): VoltageTrace | null;
  /** Minimum, mean and maximum in `bins` equal bins of [from_s, to_s), seconds from the first sample. */
  overview(from_s: number, to_s: number, bins: number): Bins;
  /** Raw conversions within [from_s, to_s): bursts, each by itself, or part of a raw recording. */
  waveforms(from_s: number, to_s: number): Waveform[];
  /** Faults of the board and their ends, in the order they came, on the trace's axis. */
  statuses(): (StatusReading & { t_s: number })[];
  /** All that the board sent but raw lines, as it sent it, boot by boot. Empty for an imported capture. */
  readings(): RunReadings[];
  /** Raw lines as the board sent them, some thousand conversions at a time. */
  rawLines(): Generator<{ run: number; lines: RawReading[] }>;
  /** Runs with their clocks, without readings. */
  runFacts(): RunFacts[];
  /** Every reading with its place on the trace, some thousand at a time. */
  rows(): Generator<Rows>;
  /** The points of an imported capture, their own times as they were. */
  points(): PointColumns;
  /** Faults of the board as it told them, with the run that each is of. */
  rawStatuses(): (StatusReading & { run: number })[];
  /** Marks where they lie on the axis. */
  axisMarks(): { axis_us: number; text: string }[];
  /** What names a person or a car. */
  personal(): Personal;
  /** Whether it holds work in the bay. */
  hasBay(): boolean;
  /** Wall clock at axis time 0; null where the source has none. */
  axis_ms(): number | null;
  /** Axis time of the first sample, microseconds. */
  zero_us(): number;
  close(): void;
}

/** One boot, and the clock that places its readings. */
export interface RunFacts {
  run: Run;
  clock: ClockKnot[];
  /** How sure the gap before it is, as `Gap.uncertain_s`; absent where it is sure. */
  doubt_s?: number | null;
}

/** One boot's readings in device time. */
export interface RunReadings extends RunFacts {
  windows: WindowColumns;
  voltage: VoltageColumns;
}

export interface ReadOptions {
  /** Whether later calibrations are left out: what the board said itself. */
  original?: boolean;
  /**
   * Whether 32 bits will do for the trace's currents and lengths: for its findings, not for what is written down again.
   */
  singles?: boolean;
}

/**
 * Opens a capture for reading, also while it is being recorded.
 * @throws Error in one sentence: not there, not a capture, newer than this version, or damaged.
 */
export function openCapture(path: string, options: ReadOptions = {}): Capture {
  return captureOf(path, openForReading(path), options);
}

/** As `openCapture`; null where the file is no database at all. */
export function openIfCapture(path: string, options: ReadOptions = {}): Capture | null {
  const opened = openIfDatabase(path);
  return typeof opened === 'string' ? null : captureOf(path, opened, options);
}

function captureOf(
  path: string,
  { db, close }: OpenedReader,
  { original = false, singles = false }: ReadOptions,
): Capture {
  const reader = new Reader(new Stored(path, db), original, singles);
  const guarded =
    <A extends unknown[], R>(read: (...args: A) => R) =>
    (...args: A): R => {
      try {
        return db.transaction(() => read(...args))();
      } catch (error) {
        throw isDatabaseError(error) ? new Error(damaged(path, error), { cause: error }) : error;
      }
    };
  return {
    info: guarded(() => reader.info()),
    trace: guarded(() => reader.trace()),
    voltage: guarded(() => reader.voltage()),
    overview: guarded((from_s: number, to_s: number, bins: number) =>
      overviewOf(reader.stored, reader.layout(), from_s, to_s, bins),
    ),
    waveforms: guarded((from_s: number, to_s: number) =>
      waveformsBetween(reader.stored, reader.layout(), from_s, to_s),
    ),
    statuses: guarded(() => reader.statuses()),
    readings: guarded(() => reader.readings()),
    rawLines: () => inOneView(db, reader.rawLines()),
    runFacts: guarded(() => reader.runFacts()),
    rows: () => inOneView(db, reader.rows()),
    points: guarded(() => reader.stored.points(reader.layout().blocks)),
    rawStatuses: guarded(() => reader.stored.statuses()),
    axisMarks: guarded(() => reader.stored.marks()),
    hasBay: guarded(() => reader.stored.hasBay()),
    personal: guarded(() => reader.stored.personal()),
    axis_ms: guarded(() => reader.stored.info().axis_ms),
    zero_us: guarded(() => reader.layout().zero_s * 1e6),
    close,
  };
}

/** A recorder that merges blocks meanwhile takes none away from whoever is between two parts. */
function* inOneView<T>(db: Db, parts: Generator<T>): Generator<T> {
  db.exec('BEGIN');
  try {
    yield* parts;
  } finally {
    if (db.open) db.exec('COMMIT');
  }
}

class Reader {
  /** Kept until another connection has changed the file. */
  private known: { version: unknown; layout: Layout } | null = null;

  constructor(
    readonly stored: Stored,
    private readonly original: boolean,
    private readonly singles: boolean,
  ) {}

  layout(): Layout {
    const version = this.stored.version();
    if (this.known === null || this.known.version !== version)
      this.known = { version, layout: layoutOf(this.stored, this.original) };
    return this.known.layout;
  }

  info(): CaptureInfo {
    const { stored } = this;
    const {
      kind,
      state,
      software,
      created_ms,
      job,
      origin,
      axis_ms,
      bad_line_count,
      car = null,
      battery = null,
      certificate = null,
      checked_by = '',
    } = stored.info();
    const { runs, raw, zero_s, end_s, samples } = this.layout();
    return {
      path: stored.path,
      kind,
      state,
      software,
      created_ms,
      job,
      origin,
      samples,
      runs,
      car,
      battery,
      certificate: certificate === null ? null : { ...certificate, by: checked_by },
      start_ms: startOf(axis_ms, zero_s, samples > 0),
      duration_s: end_s - zero_s,
      rawSamples: raw.reduce((sum, block) => sum + block.count, 0),
      marks: stored.marks().map((mark): Mark => ({ t_s: mark.axis_us / 1e6 - zero_s, text: mark.text })),
      calibrations: stored.calibrations(),
      badLineCount: bad_line_count,
      badLines: stored.badLines(),
    };
  }

  trace(): Trace {
    const { axis_ms, kind } = this.stored.info();
    const layout = this.layout();
    const start_ms = startOf(axis_ms, layout.zero_s, layout.samples > 0);
    if (kind === 'imported') return traceOfPoints(this.stored.points(layout.blocks), start_ms);
    if (layout.rawTrace) return rawTrace(this.stored, layout, start_ms);
    const steady = steadyTrace(this.stored, layout, start_ms, this.singles);
    if (steady !== null) return steady;
    const { columns, slices, start_s, dur_s, mean_mA, gaps } = placedWindows(this.stored, layout, layout.blocks);
    return {
      kind: 'windows',
      start_ms,
      time: { kind: 'listed', t_s: start_s },
      dur_s,
      mean_mA,
      min_mA: corrected(columns.min_uA, slices),
      max_mA: corrected(columns.max_uA, slices),
      gaps,
    };
  }

  voltage(): VoltageTrace | null {
    const { axis, zero_s, blocks, voltages } = this.layout();
    if (this.stored.info().kind === 'imported') return voltageOfPoints(this.stored.points(blocks));
    const columns = this.stored.voltages(voltages);
    if (columns.t_us.length === 0) return null;
    const t_s = new Float64Array(columns.t_us.length);
    let at = 0;
    for (const { run, count } of voltages) {
      for (let i = at; i < at + count; i++) t_s[i] = axis.get(run)!.at(columns.t_us[i]!) / 1e6 - zero_s;
      at += count;
    }
    return { t_s, voltage_V: scaled(columns.bus_mV), temp_C: scaled(columns.temp_mC) };
  }

  runFacts(): RunFacts[] {
    return this.stored.runs().map((run) => {
      const doubt_s = this.stored.doubt_s(run.id);
      return { run, clock: this.stored.knots(run.id), ...(doubt_s === undefined ? {} : { doubt_s }) };
    });
  }

  readings(): RunReadings[] {
    const windows = ofEachRun(this.layout().blocks),
      voltages = ofEachRun(this.layout().voltages);
    return this.runFacts().map((facts) => ({
      ...facts,
      windows: this.stored.windows(windows.get(facts.run.id) ?? []),
      voltage: this.stored.voltages(voltages.get(facts.run.id) ?? []),
    }));
  }

  *rows(): Generator<Rows> {
    yield* rowsOf(this.stored, this.layout());
  }

  *rawLines(): Generator<{ run: number; lines: RawReading[] }> {
    for (const block of this.layout().raw) {
      const columns = newRawColumns(block.count);
      this.stored.raw(block, columns);
      yield { run: block.run, lines: linesOfColumns(columns) };
    }
  }

  statuses(): (StatusReading & { t_s: number })[] {
    const { axis, zero_s } = this.layout();
    return this.stored
      .statuses()
      .map(({ run, ...status }) => ({ ...status, t_s: axis.get(run)!.at(status.t_us) / 1e6 - zero_s }));
  }
}

/** Thousandths. */
function scaled(values: Float64Array): Float64Array {
  const out = new Float64Array(values.length);
  for (let i = 0; i < out.length; i++) out[i] = values[i]! / 1000;
  return out;
}

function startOf(axis_ms: number | null, zero_s: number, hasSamples: boolean): number | null {
  return axis_ms === null || !hasSamples ? null : axis_ms + zero_s * 1000;
}
