// Reads a capture: what it says of itself, its trace for the analysis, and an
// overview of any stretch for drawing. The only file that outsiders open captures with.

import {
  decodePoints, decodeVoltage, decodeWindows, newVoltageColumns, newWindowColumns, sortWindows, STREAM,
} from './blocks.ts';
import type { PointColumns, VoltageColumns, WindowColumns } from './blocks.ts';
import { binGroups } from './overview.ts';
import { traceOfPoints, voltageOfPoints } from './points.ts';
import { damaged, isDatabaseError, openDatabase } from './schema.ts';
import type { Db } from './schema.ts';
import { readHello, readInfoValues } from './shapes.ts';
import type { InfoValues } from './shapes.ts';
import { decodeGroups, GROUP, groupCount, groupPoints, groupWindows, newGroups } from './summaries.ts';
import type { Groups } from './summaries.ts';
import { axisOf, estimated, gapsOfWindows, placeWindows } from './timeline.ts';
import type { RunSlice, ToAxis } from './timeline.ts';
import type { BadLine, CaptureInfo, ClockKnot, Mark, Overview, Personal, Run, StatusReading, Trace, VoltageTrace } from './types.ts';

/** An opened capture. Reading is done anew at each call, so that a running recording is seen to grow. */
export interface Capture {
  info(): CaptureInfo;
  /** The whole current. Zero samples are possible where a recording was stopped at once. */
  trace(): Trace;
  /** Battery voltage, null where there is none. */
  voltage(): VoltageTrace | null;
  /** Minimum, mean and maximum in `bins` equal bins of [from_s, to_s), seconds from the first sample. */
  overview(from_s: number, to_s: number, bins: number): Overview;
  /** Faults of the board and their ends, in the order they came, on the trace's axis. */
  statuses(): (StatusReading & { t_s: number })[];
  /** All that the board sent, as it sent it, boot by boot. Empty for an imported capture. */
  readings(): RunReadings[];
  /** The points of an imported capture, their own times as they were. */
  points(): PointColumns;
  /** Faults of the board as it told them, with the run that each is of. */
  rawStatuses(): (StatusReading & { run: number })[];
  /** Marks where they lie on the axis. */
  axisMarks(): { axis_us: number; text: string }[];
  /** What names a person or a car. */
  personal(): Personal;
  /** Wall clock at axis time 0; null where the source has none. */
  axis_ms(): number | null;
  /** Axis time of the first sample, microseconds. */
  zero_us(): number;
  close(): void;
}

/** One boot's readings in device time, and the clock that places them. */
export interface RunReadings {
  run: Run;
  clock: ClockKnot[];
  windows: WindowColumns;
  voltage: VoltageColumns;
}

/** Row of table `block` without its bytes. `first_us`, `last_us`: on the capture's axis. */
interface BlockPlace {
  id: number;
  run: number;
  stream: number;
  pending: number;
  first_t_us: number;
  last_t_us: number;
  count: number;
}

/** All that is needed to place readings: runs in order with their clocks, and the first sample's place. */
interface Layout {
  runs: Run[];
  toAxis: Map<number, ToAxis>;
  blocks: BlockPlace[];
  /** Axis time of the first sample, seconds. */
  zero_s: number;
  /** Axis time of the end of the last one, seconds. */
  end_s: number;
}

/**
 * Opens a capture for reading, also while it is being recorded.
 * @throws Error in one sentence: not there, not a capture, newer than this version, or damaged.
 */
export function openCapture(path: string): Capture {
  const db = openDatabase(path, { readonly: true });
  const reader = new Reader(path, db);
  const guarded = <A extends unknown[], R>(read: (...args: A) => R) => (...args: A): R => {
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
    overview: guarded((from_s: number, to_s: number, bins: number) => reader.overview(from_s, to_s, bins)),
    statuses: guarded(() => reader.statuses()),
    readings: guarded(() => reader.readings()),
    points: guarded(() => reader.allPoints()),
    rawStatuses: guarded(() => reader.rawStatuses()),
    axisMarks: guarded(() => reader.axisMarks()),
    personal: guarded(() => reader.personal()),
    axis_ms: guarded(() => reader.axis_ms()),
    zero_us: guarded(() => reader.zero_us()),
    close: () => void db.close(),
  };
}

class Reader {
  /** Kept until another connection has changed the file (sqlite.org, PRAGMA data_version). */
  private known: { version: unknown; layout: Layout } | null = null;

  constructor(private readonly path: string, private readonly db: Db) {}

  private values(): InfoValues {
    return readInfoValues(this.path, this.db.prepare('SELECT key, value FROM info').all() as { key: string; value: string }[]);
  }

  private runs(): Run[] {
    const rows = this.db.prepare('SELECT id, reason, began_ms, hello FROM run ORDER BY id').all() as (Omit<Run, 'hello'> & { hello: string })[];
    return rows.map((row) => ({ ...row, hello: readHello(this.path, row.hello) }));
  }

  private layout(): Layout {
    const version = this.db.pragma('data_version', { simple: true });
    const layout = this.known !== null && this.known.version === version ? this.known.layout : this.readLayout();
    this.known = { version, layout };
    return layout;
  }

  private readLayout(): Layout {
    const runs = this.runs();
    const blocks = this.db
      .prepare('SELECT id, run, stream, pending, first_t_us, last_t_us, count FROM block WHERE stream <> ? ORDER BY run, id')
      .all(STREAM.voltage) as BlockPlace[];
    const knots = this.db.prepare('SELECT t_us, axis_us FROM clock WHERE run = ? ORDER BY t_us');
    const toAxis = new Map<number, ToAxis>([[0, (t_us) => t_us]]);
    let end_us = -Infinity;
    for (const run of runs) {
      const own = extentOf(blocks.filter((block) => block.run === run.id));
      const axis = axisOf(knots.all(run.id) as ClockKnot[]);
      // Two boots never overlap: where the clocks' uncertainty says so, the later one waits.
      const shift_us = own === null ? 0 : Math.max(0, end_us - axis(own.first_t_us));
      const placed: ToAxis = (t_us) => axis(t_us) + shift_us;
      toAxis.set(run.id, placed);
      if (own !== null) end_us = placed(own.last_t_us);
    }
    const firstRun = blocks[0]?.run, lastRun = blocks[blocks.length - 1]?.run;
    const first = extentOf(blocks.filter((block) => block.run === firstRun)), last = extentOf(blocks.filter((block) => block.run === lastRun));
    return {
      runs, toAxis, blocks,
      zero_s: first === null ? 0 : toAxis.get(firstRun!)!(first.first_t_us) / 1e6,
      end_s: last === null ? 0 : toAxis.get(lastRun!)!(last.last_t_us) / 1e6,
    };
  }

  info(): CaptureInfo {
    const values = this.values();
    const { runs, blocks, zero_s, end_s } = this.layout();
    const last = blocks[blocks.length - 1];
    return {
      path: this.path, kind: values.kind, state: values.state, software: values.software, created_ms: values.created_ms, job: values.job, origin: values.origin,
      start_ms: startOf(values.axis_ms, zero_s, last !== undefined),
      duration_s: end_s - zero_s,
      samples: blocks.reduce((sum, block) => sum + block.count, 0),
      runs,
      marks: this.axisMarks().map((mark): Mark => ({ t_s: mark.axis_us / 1e6 - zero_s, text: mark.text })),
      badLineCount: values.bad_line_count,
      badLines: this.db.prepare('SELECT wall_ms, reason, line FROM bad_line ORDER BY id').all() as BadLine[],
    };
  }

  private bytesOf(block: BlockPlace): { data: Buffer; crc32: number } {
    return this.db.prepare('SELECT data, crc32 FROM block WHERE id = ?').get(block.id) as { data: Buffer; crc32: number };
  }

  /** Runs `decode` on a block's bytes, naming file and block where they are damaged. */
  private decode(block: BlockPlace, decode: (data: Buffer, crc: number) => void): void {
    const { data, crc32 } = this.bytesOf(block);
    try {
      decode(data, crc32);
    } catch (error) {
      throw new Error(`${this.path} is damaged in block ${block.id}: ${(error as Error).message}`, { cause: error });
    }
  }

  trace(): Trace {
    const { axis_ms, kind } = this.values();
    const layout = this.layout();
    const start_ms = startOf(axis_ms, layout.zero_s, layout.blocks.length > 0);
    return kind === 'imported' ? this.pointTrace(layout, start_ms) : this.windowTrace(layout, start_ms);
  }

  private windowTrace({ blocks, toAxis, zero_s }: Layout, start_ms: number | null): Trace {
    const columns = this.windows(blocks);
    const slices: RunSlice[] = [];
    let at = 0;
    for (const block of blocks) {
      const open = slices[slices.length - 1];
      const place = toAxis.get(block.run)!;
      if (open?.toAxis === place) open.to += block.count;
      else slices.push({ from: at, to: at + block.count, toAxis: place, run: block.run });
      at += block.count;
    }
    const { start_s, dur_s } = placeWindows(columns, slices);
    const gaps = gapsOfWindows(columns, slices, start_s, dur_s);
    for (let i = 0; i < start_s.length; i++) start_s[i] = start_s[i]! - zero_s;
    return {
      kind: 'windows',
      start_ms,
      time: { kind: 'listed', t_s: start_s },
      dur_s,
      mean_mA: scaled(columns.mean_uA, 1000),
      min_mA: scaled(columns.min_uA, 1000),
      max_mA: scaled(columns.max_uA, 1000),
      gaps: estimated(columns, start_s, gaps.map((gap) => ({ ...gap, start_s: gap.start_s - zero_s, end_s: gap.end_s - zero_s })), this.doubts(slices, start_s)),
    };
  }

  /** How sure the gap before each run is, by the trace time of that run's first sample. */
  private doubts(slices: readonly RunSlice[], start_s: Float64Array): Map<number, number | null> {
    const doubt = this.db.prepare('SELECT value FROM info WHERE key = ?').pluck();
    const found = new Map<number, number | null>();
    for (const { from, run } of slices) {
      const value = doubt.get(`doubt_s_${run}`) as string | undefined;
      if (value !== undefined) found.set(start_s[from]!, JSON.parse(value) as number | null);
    }
    return found;
  }

  private windows(blocks: readonly BlockPlace[]): WindowColumns {
    const columns = newWindowColumns(blocks.reduce((sum, block) => sum + block.count, 0));
    let at = 0;
    for (const block of blocks) {
      this.decode(block, (data, crc) => decodeWindows(data, crc, block.count, columns, at));
      at += block.count;
    }
    sortRuns(columns, blocks);
    return columns;
  }

  private points(blocks: readonly BlockPlace[]): PointColumns {
    const count = blocks.reduce((sum, block) => sum + block.count, 0);
    const points: PointColumns = {
      t_s: new Float64Array(count), current_mA: new Float64Array(count), min_mA: null, max_mA: null, voltage_V: null,
    };
    let at = 0;
    for (const block of blocks) {
      this.decode(block, (data, crc) => decodePoints(data, crc, block.count, points, at));
      at += block.count;
    }
    return points;
  }

  allPoints(): PointColumns {
    return this.points(this.layout().blocks);
  }

  rawStatuses(): (StatusReading & { run: number })[] {
    const rows = this.db.prepare('SELECT run, seq, t_us, code, detail FROM status ORDER BY id').all() as (Omit<StatusReading, 'kind'> & { run: number })[];
    return rows.map((row) => ({ kind: 'status', ...row }));
  }

  axisMarks(): { axis_us: number; text: string }[] {
    return this.db.prepare('SELECT axis_us, text FROM mark ORDER BY axis_us').all() as { axis_us: number; text: string }[];
  }

  personal(): Personal {
    const rows = this.db.prepare("SELECT key, value FROM info WHERE key IN ('plate', 'vehicle', 'customer')").all() as { key: string; value: string }[];
    return Object.fromEntries(rows.map(({ key, value }) => [key, JSON.parse(value) as string]));
  }

  axis_ms(): number | null {
    return this.values().axis_ms;
  }

  zero_us(): number {
    return this.layout().zero_s * 1e6;
  }

  private pointTrace({ blocks }: Layout, start_ms: number | null): Trace {
    return traceOfPoints(this.points(blocks), start_ms);
  }

  voltage(): VoltageTrace | null {
    const { toAxis, zero_s, blocks } = this.layout();
    if (this.values().kind === 'imported') return voltageOfPoints(this.points(blocks));
    const rows = this.voltageBlocks();
    const columns = this.voltages(rows);
    if (columns.t_us.length === 0) return null;
    const t_s = new Float64Array(columns.t_us.length);
    let at = 0;
    for (const block of rows) {
      const place = toAxis.get(block.run)!;
      for (let i = at; i < at + block.count; i++) t_s[i] = place(columns.t_us[i]!) / 1e6 - zero_s;
      at += block.count;
    }
    return { t_s, voltage_V: scaled(columns.bus_mV, 1000), temp_C: scaled(columns.temp_mC, 1000) };
  }

  private voltageBlocks(): BlockPlace[] {
    return this.db
      .prepare('SELECT id, run, stream, pending, first_t_us, last_t_us, count FROM block WHERE stream = ? ORDER BY run, id')
      .all(STREAM.voltage) as BlockPlace[];
  }

  private voltages(blocks: readonly BlockPlace[]): VoltageColumns {
    const columns = newVoltageColumns(blocks.reduce((sum, block) => sum + block.count, 0));
    let at = 0;
    for (const block of blocks) {
      this.decode(block, (data, crc) => decodeVoltage(data, crc, block.count, columns, at));
      at += block.count;
    }
    return columns;
  }

  readings(): RunReadings[] {
    const { runs, blocks } = this.layout();
    const voltageBlocks = this.voltageBlocks();
    const knots = this.db.prepare('SELECT t_us, axis_us FROM clock WHERE run = ? ORDER BY t_us');
    return runs.map((run) => ({
      run,
      clock: knots.all(run.id) as ClockKnot[],
      windows: this.windows(blocks.filter((block) => block.run === run.id)),
      voltage: this.voltages(voltageBlocks.filter((block) => block.run === run.id)),
    }));
  }

  overview(from_s: number, to_s: number, bins: number): Overview {
    if (!(to_s > from_s) || !(bins >= 1)) throw new Error(`an overview needs a stretch of time and a bin at least, not ${from_s} to ${to_s} s in ${bins} bins`);
    const { toAxis, zero_s, blocks } = this.layout();
    const place = (block: BlockPlace, t_us: number) => toAxis.get(block.run)!(t_us) / 1e6 - zero_s;
    const seen = blocks.filter((block) => place(block, block.last_t_us) >= from_s && place(block, block.first_t_us) < to_s);
    const within = seen.reduce((sum, block) => {
      const start_s = place(block, block.first_t_us), end_s = place(block, block.last_t_us);
      const share = end_s > start_s ? (Math.min(end_s, to_s) - Math.max(start_s, from_s)) / (end_s - start_s) : 1;
      return sum + block.count * share;
    }, 0);
    // Groups will do where at least one falls into each bin; closer in, the readings themselves are drawn.
    const coarse = within >= bins * GROUP;
    const parts = seen.map((block) => {
      const groups = coarse && block.pending === 0 ? this.summary(block) : this.finest(block);
      for (let g = 0; g < groups.from.length; g++) {
        groups.from[g] = place(block, groups.from[g]!);
        groups.to[g] = place(block, groups.to[g]!);
      }
      return groups;
    });
    return binGroups(parts, from_s, to_s, bins);
  }

  private summary(block: BlockPlace): Groups {
    const data = this.db.prepare('SELECT data FROM summary WHERE block = ?').pluck().get(block.id) as Buffer | undefined;
    if (data === undefined) return this.finest(block);
    const groups = newGroups(groupCount(data));
    decodeGroups(data, block.first_t_us, groups, 0);
    return groups;
  }

  /** Every reading of a block as a group of its own. */
  private finest(block: BlockPlace): Groups {
    if (block.stream === STREAM.points) return groupPoints(this.points([block]), 0, block.count, 1);
    return groupWindows(this.windows([block]), 0, block.count, 1);
  }

  statuses(): (StatusReading & { t_s: number })[] {
    const { toAxis, zero_s } = this.layout();
    const rows = this.db.prepare('SELECT run, seq, t_us, code, detail FROM status ORDER BY id').all() as (Omit<StatusReading, 'kind'> & { run: number })[];
    return rows.map(({ run, ...status }) => ({ kind: 'status', ...status, t_s: toAxis.get(run)!(status.t_us) / 1e6 - zero_s }));
  }
}

/** First and last device time of some blocks, null where there are none: one with windows sent again lies within others. */
function extentOf(blocks: readonly BlockPlace[]): { first_t_us: number; last_t_us: number } | null {
  if (blocks.length === 0) return null;
  return { first_t_us: Math.min(...blocks.map((b) => b.first_t_us)), last_t_us: Math.max(...blocks.map((b) => b.last_t_us)) };
}

/** Puts windows that were sent again in their place; `blocks` are those that the columns were read from. */
function sortRuns(columns: WindowColumns, blocks: readonly BlockPlace[]): void {
  let from = 0;
  for (let b = 0; b < blocks.length;) {
    const { run } = blocks[b]!;
    let to = from;
    for (; b < blocks.length && blocks[b]!.run === run; b++) to += blocks[b]!.count;
    sortWindows(columns, from, to);
    from = to;
  }
}

function scaled(values: Float64Array, by: number): Float64Array {
  const out = new Float64Array(values.length);
  for (let i = 0; i < out.length; i++) out[i] = values[i]! / by;
  return out;
}

function startOf(axis_ms: number | null, zero_s: number, hasSamples: boolean): number | null {
  return axis_ms === null || !hasSamples ? null : axis_ms + zero_s * 1000;
}
