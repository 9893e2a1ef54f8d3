// Which pieces are wake-ups and dips, by the project's definition: a rise that comes
// back to the level before it, or below, however long it lasts, is a wake-up; a fall
// that comes back is a dip. Rises still open are kept on a stack; a fall to a rise's
// base closes it and all above it. Rises that lie in a wake-up are part of it. A small
// rise that is held is a step, and what rises from it rises over its level: several such
// are no wake-up together, however high they climb. One that a wake-up soon follows, and
// outlasts, is that wake-up's beginning.
//
// Falls need one rule more. Going to sleep is a fall too, and a later wake-up passes the
// level before it. So a fall is a dip only where it is short beside the time at the
// level before and after it, and comes back to that level, not merely past it.
// O(pieces) for flat traces, O(pieces x depth of nesting) at worst.

import type { Piece } from '../levels/pieces.ts';
import { HOLD_SHARE, RISE_SHARE } from '../levels/segments.ts';
import { SAME } from '../levels/staircase.ts';

/** Most a dip may last, as a share of the time at its level before it. */
const DIP_SHARE = 0.5;
/** The level must hold for this share of the time after a dip, over so many lengths of it. */
const DIP_AFTER_SHARE = 0.5;
const DIP_AFTER_LENGTHS = 4;
/** How near a dip must come back to its level, as a share of its depth. */
const DIP_BACK_SHARE = 0.02;

/** Pieces first..end-1; piece `end` is the one that came back. */
export interface Excursion {
  kind: 'wakeup' | 'dip';
  first: number;
  end: number;
  /** The level before it. */
  base_mA: number;
  /** How near counts as back. */
  near_mA: number;
}

export interface ExcursionOptions {
  step_mA: number;
  rise_mA: number;
  hold_s: number;
  /** Start of a sample, s. */
  at: (sample: number) => number;
  /** First sample of a sinking piece that is at or below a current. */
  reaches: (piece: Piece, current_mA: number) => number;
  /** Single samples are instants: one alone at the base does not end a wake-up. */
  points: boolean;
}

/** A rise that has not come back: its first piece, and the level before it. */
interface Open {
  first: number;
  base_mA: number;
}

class Reader {
  readonly accepted: Excursion[] = [];
  /** Pieces inside an accepted excursion. */
  readonly inside: number[];
  private open: Open[] = [];
  private readonly pieces: Piece[];
  private readonly options: ExcursionOptions;

  constructor(pieces: Piece[], options: ExcursionOptions) {
    this.pieces = pieces;
    this.options = options;
    this.inside = pieces.map(() => 0);
  }

  read(): void {
    const { pieces } = this;
    let j = 1;
    while (j < pieces.length) {
      const before = pieces[j - 1]!;
      const piece = pieces[j]!;
      if (piece.start_mA > before.end_mA) {
        this.open.push({ first: j, base_mA: before.end_mA });
        j++;
        continue;
      }
      if (this.splitsAt(j)) j++;
      if (this.isGlitch(j) || !this.close(j)) {
        const back = this.isGlitch(j) ? j + 1 : this.dipEnd(j);
        if (back > j) {
          this.accept({ kind: 'dip', first: j, end: back, base_mA: before.end_mA, near_mA: this.near(before, piece) });
          j = back;
        }
      }
      j++;
    }
  }

  private near(a: Piece, b: Piece): number {
    // The calmer noise of the two: a fall in progress looks noisy, but blurs no level.
    const noise_mA = Math.min(a.noise_mA, b.noise_mA);
    return Math.max(this.options.step_mA, SAME * noise_mA * Math.sqrt(1 / a.ticks + 1 / b.ticks));
  }

  private time(first: number, end: number): number {
    return this.options.at(this.pieces[end - 1]!.to) - this.options.at(this.pieces[first]!.from);
  }

  /** One instant low between two alike: a lost reading, not the end of something. */
  private isGlitch(j: number): boolean {
    const piece = this.pieces[j]!;
    const after = this.pieces[j + 1];
    if (!this.options.points || piece.to - piece.from > 1 || after === undefined) return false;
    const before = this.pieces[j - 1]!;
    return (
      Math.abs(after.start_mA - before.end_mA) <=
      this.near(before, after) + 0.1 * Math.abs(before.end_mA - piece.start_mA)
    );
  }

  /** A piece that sinks slowly to the base of a rise is cut in two where it gets there; true where one was. */
  private splitsAt(j: number): boolean {
    const piece = this.pieces[j]!;
    for (let k = this.open.length - 1; k >= 0 && !piece.pulse; k--) {
      const { first, base_mA } = this.open[k]!;
      const near_mA = this.near(this.pieces[first - 1]!, piece);
      const back_mA = base_mA + near_mA;
      if (piece.end_mA > back_mA) return false;
      if (piece.start_mA - piece.end_mA < near_mA || piece.start_mA <= back_mA) continue;
      const cut = this.options.reaches(piece, back_mA);
      if (cut <= piece.from || cut >= piece.to) return false;
      this.pieces.splice(j, 1, { ...piece, to: cut, end_mA: back_mA }, { ...piece, from: cut, start_mA: base_mA });
      this.inside.splice(j, 0, 0);
      return true;
    }
    return false;
  }

  /** Ends the rises whose base the current has come back to; false where there is none. */
  private close(j: number): boolean {
    const piece = this.pieces[j]!;
    const value = piece.pulse ? piece.mean_mA : Math.min(piece.start_mA, piece.end_mA);
    const group: Open[] = [];
    const nearTo = (rise: Open) => this.near(this.pieces[rise.first - 1]!, piece);
    for (let top = this.open.at(-1); top !== undefined && value <= top.base_mA + nearTo(top); top = this.open.at(-1)) {
      group.unshift(top);
      this.open.pop();
    }
    for (let g = 0; g < group.length; g++) {
      const rise = group[g]!;
      const far = this.goesFar(1, rise.first, j, rise.base_mA);
      if (far === null || (far.landed && this.time(rise.first, far.at) > this.time(far.at, j))) continue;
      this.accept({ kind: 'wakeup', first: rise.first, end: j, base_mA: rise.base_mA, near_mA: nearTo(rise) });
      break;
    }
    return group.length > 0;
  }

  /** Where the fall at piece j comes back, if it is a dip; j where it is none. */
  private dipEnd(j: number): number {
    const { pieces } = this;
    const before = pieces[j - 1]!;
    const near_mA = this.near(before, pieces[j]!);
    const level_mA = before.end_mA - near_mA;
    let back = j;
    let bottom = Infinity;
    while (back < pieces.length && pieces[back]!.start_mA < level_mA) {
      bottom = Math.min(bottom, pieces[back]!.start_mA);
      back++;
    }
    const depth = before.end_mA - bottom;
    if (back === pieces.length || this.goesFar(-1, j, back, before.end_mA) === null) return j;
    if (pieces[back]!.start_mA > before.end_mA + Math.max(near_mA, DIP_BACK_SHARE * depth)) return j;
    const lasts_s = this.time(j, back);
    if (this.heldBefore(j, level_mA, lasts_s / DIP_SHARE) < lasts_s / DIP_SHARE) return j;
    return this.holdsAfter(back, level_mA, lasts_s * DIP_AFTER_LENGTHS) ? back : j;
  }

  /**
   * Where pieces first..end-1, from a level before them, rise (fall) at least the smallest
   * rise over some level before it: what is held is the level for what follows it.
   * `landed`: from such a held level, not from the first. Null where they do not.
   */
  private goesFar(sign: 1 | -1, first: number, end: number, from_mA: number): { at: number; landed: boolean } | null {
    let level_mA = from_mA;
    let landed = false;
    for (let k = first; k < end; k++) {
      if (this.inside[k] !== 0) continue;
      const { start_mA, end_mA } = this.pieces[k]!;
      if (Math.max(sign * start_mA, sign * end_mA) - sign * level_mA >= RISE_SHARE * this.options.rise_mA)
        return { at: k, landed };
      if (this.time(k, k + 1) < HOLD_SHARE * this.options.hold_s) continue;
      level_mA = end_mA;
      landed = true;
    }
    return null;
  }

  private heldBefore(j: number, level_mA: number, enough_s: number): number {
    let held_s = 0;
    for (let k = j - 1; k >= 0 && held_s < enough_s; k--) {
      if (this.pieces[k]!.end_mA >= level_mA) held_s += this.time(k, k + 1);
      else if (this.inside[k] === 0) break;
    }
    return held_s;
  }

  private holdsAfter(back: number, level_mA: number, span_s: number): boolean {
    const until_s = this.options.at(this.pieces[back]!.from) + span_s;
    let held_s = 0;
    let seen_s = 0;
    for (let k = back; k < this.pieces.length && this.options.at(this.pieces[k]!.from) < until_s; k++) {
      const part_s = Math.min(until_s, this.options.at(this.pieces[k]!.to)) - this.options.at(this.pieces[k]!.from);
      seen_s += part_s;
      if (this.pieces[k]!.start_mA >= level_mA) held_s += part_s;
    }
    return held_s >= DIP_AFTER_SHARE * seen_s;
  }

  private accept(excursion: Excursion): void {
    while (this.accepted.length > 0 && this.accepted.at(-1)!.first >= excursion.first) this.accepted.pop();
    this.inside.fill(1, excursion.first, excursion.end);
    this.accepted.push(excursion);
  }
}

export interface ExcursionsFound {
  /** Outermost ones, in order. A piece that sank to a base has been cut there. */
  excursions: Excursion[];
  /** 1 for pieces in one of them. */
  inside: number[];
}

export function excursionsOf(pieces: Piece[], options: ExcursionOptions): ExcursionsFound {
  const reader = new Reader(pieces, options);
  reader.read();
  return { excursions: reader.accepted, inside: reader.inside };
}
