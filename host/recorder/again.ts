// Asks the board for windows that did not arrive, while it may still have them: it
// keeps the last second or more (firmware/PROTOCOL.md, command `r`).

import type { Hole } from './sequence.ts';

/** Between two questions: longer than the board needs to send what it keeps. */
const ASK_EVERY_US = 300_000;

/** A hole is asked for so often; what has not come then, the board no longer has. */
const TIMES_MAX = 3;

/** Boards keep hardly more (firmware/PROTOCOL.md, "What a host may rely on"). */
const KEPT_US = 2e6;

export class AskAgain {
  private asked_us = -Infinity;
  /** How often each hole was asked for, by the number at its end, which stays while it is filled. */
  private times = new Map<number, number>();

  /** Whether a question still makes sense: something young is missing, and was not asked for too often. */
  hopeful(holes: readonly Hole[], end_us: number, now_us: number): boolean {
    if (holes.length > 0 && now_us - this.asked_us < ASK_EVERY_US) return true;
    return holes.some(({ endSeq, to_us }) => to_us > end_us - KEPT_US && (this.times.get(endSeq) ?? 0) < TIMES_MAX);
  }

  /** The window from which on to ask now, null where there is nothing to ask or it is too soon. */
  due(holes: readonly Hole[], now_us: number): number | null {
    if (holes.length === 0 || now_us - this.asked_us < ASK_EVERY_US) return null;
    const open = holes.filter(({ endSeq }) => (this.times.get(endSeq) ?? 0) < TIMES_MAX);
    if (open.length === 0) return null;
    this.asked_us = now_us;
    const ends = new Set(holes.map(({ endSeq }) => endSeq));
    this.times = new Map([...this.times].filter(([endSeq]) => ends.has(endSeq)));
    for (const { endSeq } of open) this.times.set(endSeq, (this.times.get(endSeq) ?? 0) + 1);
    return open[0]!.seq;
  }
}
