// Watches the sequence numbers of one boot: what came twice or out of order is
// refused, every hole is counted, and what the board sends again fills it.

import type { Reading, WindowReading } from '../contract/capture.ts';

interface Place {
  seq: number;
  t_us: number;
}

/** Windows that are missing: numbers [seq, endSeq), in the time [from_us, to_us]. */
export interface Hole {
  seq: number;
  endSeq: number;
  from_us: number;
  to_us: number;
  /** Nobody listened when they were sent: no line was lost. */
  unheard: boolean;
}

/**
 * `next`: behind all others of its kind. `late`: sent again, into a hole. `known`: held already. `wrong`: from no place
 * in this boot.
 */
export type Verdict = 'next' | 'late' | 'known' | 'wrong';

/** A board keeps a second or two; older holes are never filled. */
const HOLES_KEPT = 64;

export class Sequence {
  private readonly last: Record<Reading['kind'], Place | null> = {
    window: null,
    voltage: null,
    status: null,
    raw: null,
  };
  private missing: Hole[] = [];
  private beyond: Hole | null = null;
  /** Kinds of which nothing has come since the cable was out or another recorder stopped. */
  private readonly cut = new Set<Reading['kind']>();
  /** Lines that the numbers say were sent while we listened and did not come. */
  lost = 0;
  /** Device time between windows that no window covers. */
  missing_us = 0;
  /** Readings refused since the last one that was taken. */
  wrongInRow = 0;

  /** Goes on behind what a capture holds already. */
  resumeAfter(kind: Reading['kind'], seq: number, t_us: number): void {
    this.last[kind] = { seq, t_us };
  }

  /** Nobody listened for a while: what the numbers skip next was not lost on the wire. */
  interrupted(): void {
    for (const kind of ['window', 'voltage', 'status'] as const) this.cut.add(kind);
  }

  /** A window that is not taken, behind all that are wanted: those between are missing. */
  passed({ seq, t_us, dur_us }: WindowReading): void {
    const last = this.last.window;
    if (last !== null && seq > last.seq + 1)
      this.beyond ??= { seq: last.seq + 1, endSeq: seq, from_us: last.t_us, to_us: t_us - dur_us, unheard: false };
  }

  /** Where a reading belongs; `next` and `late` ones are noted as held. */
  judge(reading: Reading): Verdict {
    const verdict = this.placed(reading);
    this.wrongInRow = verdict === 'wrong' ? this.wrongInRow + 1 : 0;
    return verdict;
  }

  private placed(reading: Reading): Verdict {
    const last = this.last[reading.kind];
    const unheard = this.cut.has(reading.kind);
    if (last !== null) {
      if (reading.kind === 'raw' && reading.seq <= last.seq && reading.t_us <= last.t_us) return 'known';
      if (reading.kind === 'raw' && reading.samples[0]!.t_us <= last.t_us) return 'wrong';
      if (reading.seq <= last.seq)
        return reading.kind === 'window'
          ? this.again(reading, last)
          : reading.seq === last.seq && reading.t_us === last.t_us
            ? 'known'
            : 'wrong';
      if (reading.t_us < last.t_us) return 'wrong';
      if (reading.kind === 'window') {
        const start_us = reading.t_us - reading.dur_us;
        if (start_us < last.t_us) return 'wrong';
        if (reading.seq > last.seq + 1)
          this.note({ seq: last.seq + 1, endSeq: reading.seq, from_us: last.t_us, to_us: start_us, unheard });
        this.missing_us += start_us - last.t_us;
      }
      if (!unheard) this.lost += reading.seq - last.seq - 1;
    }
    this.cut.delete(reading.kind);
    this.last[reading.kind] = { seq: reading.seq, t_us: reading.t_us };
    return 'next';
  }

  private note(hole: Hole): void {
    this.missing.push(hole);
    if (this.missing.length > HOLES_KEPT) this.missing.shift();
  }

  /** A window with a number that was passed already: it fits a hole in number and time, or it is none of ours. */
  private again(window: WindowReading, last: Place): Verdict {
    const start_us = window.t_us - window.dur_us;
    const at = this.missing.findIndex(({ seq, endSeq }) => window.seq >= seq && window.seq < endSeq);
    const hole = this.missing[at];
    if (hole === undefined)
      return window.t_us <= last.t_us && (window.seq === last.seq) === (window.t_us === last.t_us) ? 'known' : 'wrong';
    if (start_us < hole.from_us || window.t_us > hole.to_us) return 'wrong';
    const before = { seq: hole.seq, endSeq: window.seq, from_us: hole.from_us, to_us: start_us, unheard: hole.unheard };
    const after = {
      seq: window.seq + 1,
      endSeq: hole.endSeq,
      from_us: window.t_us,
      to_us: hole.to_us,
      unheard: hole.unheard,
    };
    this.missing.splice(at, 1, ...[before, after].filter(({ seq, endSeq }) => seq < endSeq));
    if (!hole.unheard) this.lost--;
    this.missing_us -= window.dur_us;
    return 'late';
  }

  /** Windows that are missing, the oldest first. */
  get holes(): readonly Hole[] {
    const { beyond, missing } = this;
    const seq = (this.last.window?.seq ?? -1) + 1;
    // What came of those before the end was taken as the next, one after the other.
    return beyond === null || seq >= beyond.endSeq ? missing : [...missing, { ...beyond, seq }];
  }

  /** Device time of the last window, -1 before the first. */
  get windowEnd_us(): number {
    return this.last.window?.t_us ?? -1;
  }
}
