// The clock by which times without a zone were written. Many meters never change to summer time, computers do:
// so the offset of the first row holds for all, until the times themselves jump by the hour that the zone of this
// computer changes by, just where it does.

/** Beside the change itself, a jump holds the time from one row to the next. */
const ROW_S = 600;
/** The zone is asked this far from the jump, where no hour is written twice or left out. */
const CLEAR_S = 3 * 3600;

export class LocalClock {
  private offset_min: number | null = null;
  private last_s = -Infinity;

  /** @param offsetOf minutes east of UTC at a time written without zone, seconds as if it were UTC */
  constructor(private readonly offsetOf: (seconds: number) => number) {}

  /**
   * Minutes east of UTC by which a time was written; to be asked once for each row, in their order. O(1).
   *
   * @param seconds as it stands there, as if it were UTC
   */
  offsetAt(seconds: number): number {
    this.offset_min ??= this.offsetOf(seconds);
    const jump_s = seconds - this.last_s;
    // Rows a second apart are not asked about.
    if (this.last_s !== -Infinity && (jump_s < 0 || jump_s > 1200)) this.offset_min += this.changeAt(seconds, jump_s);
    this.last_s = seconds;
    return this.offset_min;
  }

  /** By how much the clock was put forward (back where negative) between two rows, minutes; 0 where it was not. */
  private changeAt(seconds: number, jump_s: number): number {
    const change_min = this.offsetOf(seconds + CLEAR_S) - this.offsetOf(this.last_s - CLEAR_S);
    const apart_s = jump_s - 60 * change_min;
    return change_min !== 0 && apart_s > 0 && apart_s <= ROW_S ? change_min : 0;
  }
}

/** What may be wrong where times go back by less than this, s: an hour, and some rows. */
const BACK_S = 3600 + ROW_S;

/** A hint for rows that go back in time. @param back_s by how much */
export const hintFor = (back_s: number): string =>
  back_s > ROW_S && back_s <= BACK_S
    ? '; if the clock was put back an hour for winter time, write each time with its offset, such as 2031-10-26T02:00:00+01:00'
    : '';
