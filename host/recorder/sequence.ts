// Watches the sequence numbers of one boot: what came twice or out of order is
// refused, and every hole is counted.

import type { Reading } from '../capture/types.ts';

interface Place {
  seq: number;
  t_us: number;
}

export class Sequence {
  private readonly last: Record<Reading['kind'], Place | null> = { window: null, voltage: null, status: null };
  /** Lines that the numbers say were sent and did not come. */
  lost = 0;

  /** Goes on behind what a capture holds already. */
  resumeAfter(kind: Reading['kind'], seq: number, t_us: number): void {
    this.last[kind] = { seq, t_us };
  }

  /** Whether a reading is the next of its kind, a hole before it allowed. */
  accept(reading: Reading): boolean {
    const last = this.last[reading.kind];
    if (last !== null) {
      if (reading.seq <= last.seq || reading.t_us < last.t_us) return false;
      if (reading.kind === 'window' && reading.t_us - reading.dur_us < last.t_us) return false;
      this.lost += reading.seq - last.seq - 1;
    }
    this.last[reading.kind] = { seq: reading.seq, t_us: reading.t_us };
    return true;
  }

  /** Device time of the last window, -1 before the first. */
  get windowEnd_us(): number {
    return this.last.window?.t_us ?? -1;
  }
}
