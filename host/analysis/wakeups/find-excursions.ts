// Finds the wake-ups and dips among the pieces of a trace, in one pass from the first piece to the
// last. What counts as one is not decided here but in wakeup.ts and dip.ts; this file keeps the
// stack of open rises, cuts slow falls where they come back, and keeps the outermost excursions.
// O(pieces) for flat traces, O(pieces x depth of nesting) at worst.

import type { Piece } from '../levels/pieces.ts';
import { dipEnd, isLostPoint } from './dip.ts';
import { nearness_mA } from './excursion.ts';
import type { Excursion, ExcursionContext, ExcursionOptions } from './excursion.ts';
import { endRises, riseAt, slowReturnIn, wakeUpAmong } from './wakeup.ts';
import type { OpenRise } from './wakeup.ts';

class ExcursionFinder implements ExcursionContext {
  readonly accepted: Excursion[] = [];
  readonly inside: number[];
  private readonly open: OpenRise[] = [];
  readonly pieces: Piece[];
  readonly options: ExcursionOptions;

  constructor(pieces: Piece[], options: ExcursionOptions) {
    this.pieces = pieces;
    this.options = options;
    this.inside = pieces.map(() => 0);
  }

  find(): void {
    const { pieces } = this;
    let j = 1;
    while (j < pieces.length) {
      const rise = riseAt(this, j);
      if (rise !== null) {
        this.open.push(rise);
        j++;
        continue;
      }
      const before = pieces[j - 1]!;
      const piece = pieces[j]!;
      if (this.cutSlowReturn(j)) j++;
      const isLost = isLostPoint(this, j);
      const ended = isLost ? [] : endRises(this, this.open, j);
      const wakeup = wakeUpAmong(this, ended, j);
      if (wakeup !== null) this.accept(wakeup);
      const end = isLost ? j + 1 : ended.length === 0 ? dipEnd(this, j) : null;
      if (end !== null) {
        this.accept({ kind: 'dip', first: j, end, base_mA: before.end_mA, near_mA: nearness_mA(this, before, piece) });
        j = end;
      }
      j++;
    }
  }

  /** Cuts piece j in two where it sinks slowly to the base of an open rise; true where it did. */
  private cutSlowReturn(j: number): boolean {
    const back = slowReturnIn(this, this.open, j);
    if (back === null) return false;
    const piece = this.pieces[j]!;
    this.pieces.splice(
      j,
      1,
      { ...piece, to: back.sample, end_mA: back.back_mA },
      { ...piece, from: back.sample, start_mA: back.base_mA },
    );
    this.inside.splice(j, 0, 0);
    return true;
  }

  private accept(excursion: Excursion): void {
    while (this.accepted.length > 0 && this.accepted.at(-1)!.first >= excursion.first) this.accepted.pop();
    this.inside.fill(1, excursion.first, excursion.end);
    this.accepted.push(excursion);
  }
}

/** The excursions of a trace, and which of its pieces lie in them. */
export interface ExcursionsFound {
  /** The outermost ones, in order of time. */
  excursions: Excursion[];
  /** 1 for each piece that lies in one of them, else 0. */
  inside: number[];
}

/**
 * Wake-ups and dips among the pieces of a trace. `pieces` is changed in place: a piece that sinks
 * slowly to the base of a wake-up is cut in two where it gets there.
 */
export function excursionsOf(pieces: Piece[], options: ExcursionOptions): ExcursionsFound {
  const finder = new ExcursionFinder(pieces, options);
  finder.find();
  return { excursions: finder.accepted, inside: finder.inside };
}
