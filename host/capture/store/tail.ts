// One stream's newest readings while a capture is written: small blocks, one per
// transaction, that become one large block when they are enough. SPEC.md, table `block`.

import { blockCrc } from '../format/blocks.ts';
import type { Db } from '../format/schema.ts';
import type { BlockBytes, Stream } from '../format/streams.ts';
import type { Reading } from '../../contract/capture.ts';

/** Called with each merged block, for what is kept beside it. */
export type OnMerged<T> = (block: number, readings: readonly T[], first_t_us: number) => void;

/**
 * Everything here runs inside the writer's transaction; what it changes in memory
 * holds only once `settle` says that the transaction did.
 */
export class Tail<T extends Reading> {
  private run = 0;
  private held: T[] = [];
  private next: T[] = [];

  constructor(
    private readonly db: Db,
    private readonly stream: Stream<T>,
    private readonly onMerged: OnMerged<T> = () => undefined,
  ) {}

  /** Reads back a run's small blocks, so that they are merged with what follows. */
  load(run: number): void {
    this.run = run;
    const rows = this.db
      .prepare('SELECT count, crc32, data FROM block WHERE run = ? AND stream = ? AND pending = 1 ORDER BY id')
      .all(run, this.stream.stream) as BlockBytes[];
    this.held = rows.flatMap((row) => this.stream.decode(row));
    this.next = this.held;
  }

  begin(run: number): void {
    this.run = run;
    this.held = this.next = [];
  }

  /** Takes this stream's part of a batch. */
  append(batch: readonly Reading[]): void {
    const fresh = batch.filter((reading): reading is T => reading.kind === this.stream.kind);
    this.next = this.held;
    if (fresh.length === 0) return;
    const all = inOrder([...this.held, ...fresh]);
    if (this.stream.count(all) < this.stream.merged) {
      this.put(inOrder(fresh), true);
      this.next = all;
    } else {
      this.replace(all);
      this.next = [];
    }
  }

  /** Replaces the small blocks by one: the run is over. */
  merge(): void {
    if (this.held.length > 0) this.replace(this.held);
    this.next = [];
  }

  settle(): void {
    this.held = this.next;
  }

  private replace(readings: readonly T[]): void {
    this.db.prepare('DELETE FROM block WHERE run = ? AND stream = ? AND pending = 1').run(this.run, this.stream.stream);
    this.onMerged(this.put(readings, false), readings, this.stream.first_us(readings[0]!));
  }

  private put(readings: readonly T[], pending: boolean): number {
    const own = this.stream;
    const data = own.encode(readings);
    const { lastInsertRowid } = this.db
      .prepare(
        'INSERT INTO block (stream, run, pending, first_t_us, last_t_us, count, crc32, data, covered_us) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)',
      )
      .run(
        own.stream,
        this.run,
        pending ? 1 : 0,
        own.first_us(readings[0]!),
        readings[readings.length - 1]!.t_us,
        own.count(readings),
        blockCrc(data),
        data,
        own.covered_us(readings),
      );
    return Number(lastInsertRowid);
  }
}

/** Windows that the board sent again come late: put in their place. */
function inOrder<T extends { t_us: number }>(readings: T[]): T[] {
  for (let i = 1; i < readings.length; i++) {
    if (readings[i]!.t_us < readings[i - 1]!.t_us) return [...readings].sort((a, b) => a.t_us - b.t_us);
  }
  return readings;
}
