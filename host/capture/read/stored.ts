// The rows of an opened capture, checked: what stands in its tables, and the readings
// of its blocks, with file and block named where one is damaged.

import {
  decodePoints,
  decodeVoltage,
  decodeWindows,
  newVoltageColumns,
  newWindowColumns,
  sortWindows,
} from '../format/blocks.ts';
import type { PointColumns, VoltageColumns, WindowColumns } from '../format/blocks.ts';
import { decodeRaw } from '../format/raw-blocks.ts';
import type { RawColumns } from '../format/raw-blocks.ts';
import { versionOf } from '../format/schema.ts';
import type { Db, Statement } from '../format/schema.ts';
import { readDoubt, readHello, readInfoValues, readLimits, readPersonal } from '../format/shapes.ts';
import type { InfoValues } from '../format/shapes.ts';
import type { BadLine, Calibration, ClockKnot, Personal, Run, StatusReading } from '../../contract/capture.ts';

/** Row of table `block` without its bytes. */
export interface BlockPlace {
  id: number;
  run: number;
  stream: number;
  pending: number;
  first_t_us: number;
  last_t_us: number;
  count: number;
}

export const countOf = (blocks: readonly BlockPlace[]): number => blocks.reduce((sum, block) => sum + block.count, 0);

export class Stored {
  // A long night has thousands of blocks: what reads one is prepared once.
  private summaryOf: Statement | null = null;
  private blockOf: Statement | null = null;

  constructor(
    readonly path: string,
    private readonly db: Db,
  ) {}

  private all<T>(sql: string, ...values: unknown[]): T[] {
    return this.db.prepare(sql).all(...values) as T[];
  }

  /** Asked anew each time: a recorder may bring an older capture to this format meanwhile. */
  private get isFirst(): boolean {
    return versionOf(this.db) < 2;
  }

  /** Another after each change by another connection (sqlite.org, PRAGMA data_version). */
  version(): unknown {
    return this.db.pragma('data_version', { simple: true });
  }

  info(): InfoValues {
    return readInfoValues(this.path, this.all('SELECT key, value FROM info'));
  }

  /** How sure the gap before a run is, seconds; null: nobody can tell; absent: it is sure. */
  doubt_s(run: number): number | null | undefined {
    const text = this.db.prepare('SELECT value FROM info WHERE key = ?').pluck().get(`doubt_s_${run}`) as
      | string
      | undefined;
    return text === undefined ? undefined : readDoubt(this.path, text);
  }

  runs(): Run[] {
    const rows = this.all<Omit<Run, 'hello' | 'limits'> & { hello: string; limits: string | null }>(
      `SELECT id, reason, began_ms, hello, ${this.isFirst ? 'NULL' : 'limits'} AS limits FROM run ORDER BY id`,
    );
    return rows.map(({ limits, ...row }) => ({
      ...row,
      hello: readHello(this.path, row.hello),
      limits: limits === null ? null : readLimits(this.path, limits),
    }));
  }

  knots(run: number): ClockKnot[] {
    return this.all('SELECT t_us, axis_us FROM clock WHERE run = ? ORDER BY t_us', run);
  }

  /** Places of all blocks, run by run, in the order they were written. */
  blocks(): BlockPlace[] {
    return this.all('SELECT id, run, stream, pending, first_t_us, last_t_us, count FROM block ORDER BY run, id');
  }

  /**
   * Time that the readings of each block cover, by the block's id; none in captures of format 1.
   * It stands behind the readings, so that asking for it reads the whole file.
   */
  covered_us(): Map<number, number | null> {
    if (this.isFirst) return new Map();
    return new Map(
      this.all<{ id: number; covered_us: number | null }>('SELECT id, covered_us FROM block').map(
        ({ id, covered_us }) => [id, covered_us],
      ),
    );
  }

  calibrations(): Calibration[] {
    return this.isFirst
      ? []
      : this.all('SELECT made_ms, reason, shunt_nOhm, gain_ppm, offset_nV FROM calibration ORDER BY id');
  }

  statuses(): (StatusReading & { run: number })[] {
    const rows = this.all<Omit<StatusReading, 'kind'> & { run: number }>(
      'SELECT run, seq, t_us, code, detail FROM status ORDER BY id',
    );
    return rows.map((row) => ({ kind: 'status', ...row }));
  }

  marks(): { axis_us: number; text: string }[] {
    return this.all('SELECT axis_us, text FROM mark ORDER BY axis_us');
  }

  badLines(): BadLine[] {
    return this.all('SELECT wall_ms, reason, line FROM bad_line ORDER BY id');
  }

  /** Whether there was work in the bay; its tables are another file's business. */
  hasBay(): boolean {
    return (
      this.db.prepare("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'bay_state'").get() !== undefined
    );
  }

  personal(): Personal {
    return readPersonal(
      this.path,
      this.all("SELECT key, value FROM info WHERE key IN ('plate', 'vehicle', 'customer')"),
    );
  }

  summary(block: BlockPlace): Buffer | undefined {
    this.summaryOf ??= this.db.prepare('SELECT data FROM summary WHERE block = ?').pluck();
    return this.summaryOf.get(block.id) as Buffer | undefined;
  }

  /** Runs `decode` on a block's bytes, naming file and block where they are damaged. */
  private decode(block: BlockPlace, decode: (data: Buffer, crc: number) => void): void {
    this.blockOf ??= this.db.prepare('SELECT data, crc32 FROM block WHERE id = ?');
    const { data, crc32 } = this.blockOf.get(block.id) as { data: Buffer; crc32: number };
    try {
      decode(data, crc32);
    } catch (error) {
      throw new Error(`${this.path} is damaged in block ${block.id}: ${(error as Error).message}`, { cause: error });
    }
  }

  /** Windows of some blocks, which are in the order of `blocks`; those that were sent again are put in their place. */
  windows(blocks: readonly BlockPlace[]): WindowColumns {
    const columns = newWindowColumns(countOf(blocks));
    let at = 0;
    for (const block of blocks) {
      this.decode(block, (data, crc) => decodeWindows(data, crc, block.count, columns, at));
      at += block.count;
    }
    sortRuns(columns, blocks);
    return columns;
  }

  /** Windows of one block into the beginning of `out`, in the order they were written. */
  windowsOf(block: BlockPlace, out: WindowColumns): void {
    this.decode(block, (data, crc) => decodeWindows(data, crc, block.count, out, 0));
  }

  points(blocks: readonly BlockPlace[]): PointColumns {
    const count = countOf(blocks);
    const points: PointColumns = {
      t_s: new Float64Array(count),
      current_mA: new Float64Array(count),
      min_mA: null,
      max_mA: null,
      voltage_V: null,
    };
    let at = 0;
    for (const block of blocks) {
      this.decode(block, (data, crc) => decodePoints(data, crc, block.count, points, at));
      at += block.count;
    }
    return points;
  }

  voltages(blocks: readonly BlockPlace[]): VoltageColumns {
    const columns = newVoltageColumns(countOf(blocks));
    let at = 0;
    for (const block of blocks) {
      this.decode(block, (data, crc) => decodeVoltage(data, crc, block.count, columns, at));
      at += block.count;
    }
    return columns;
  }

  /** Raw conversions of one block into the beginning of `out`; with `values`, of times and units alone. */
  raw(block: BlockPlace, out: RawColumns, what: 'all' | 'values' = 'all'): void {
    this.decode(block, (data, crc) => decodeRaw(data, crc, block.count, out, what));
  }
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
