// How well the line to a board has been lately: the share of lines that came undamaged.

const OVER_MS = 60_000;

export class LineQuality {
  /** Counts as they were, oldest first; the first one is up to a minute old. */
  private readonly told: { at_ms: number; good: number; bad: number }[] = [];

  /** @param good lines that came well, and `bad` those lost or damaged, since the recording began */
  note(at_ms: number, good: number, bad: number): void {
    this.told.push({ at_ms, good, bad });
    while (this.told.length > 2 && at_ms - this.told[1]!.at_ms >= OVER_MS) this.told.shift();
  }

  /** 0 to 1; null before there is any line. */
  goodShare(): number | null {
    const first = this.told[0],
      last = this.told[this.told.length - 1];
    if (first === undefined || last === undefined) return null;
    // What came before the first note counts as long as that is all there is.
    const from = this.told.length === 1 ? { good: 0, bad: 0 } : first;
    const good = last.good - from.good,
      bad = last.bad - from.bad;
    return good + bad <= 0 ? null : Math.round((good / (good + bad)) * 1e4) / 1e4;
  }
}
