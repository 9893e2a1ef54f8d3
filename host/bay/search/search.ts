// The search for one draw as a game against the clock: which test next, so that the
// expected time to name the part is least. Few candidates are searched exhaustively
// (dynamic programming over sets of candidates); many by the best gain of information
// per second, looked ahead from each of the best first tests (a rollout: Bertsekas,
// Tsitsiklis, Wu 1997, "Rollout algorithms for combinatorial optimization"). Tests are
// taken as sure here; that they are not is the belief's affair.

import { walkTo_s } from './moves.ts';
import type { TestMove } from './moves.ts';

/** Up to so many candidates the search is exhaustive. */
const EXACT_MAX = 6;
/** An unplugging tells one part from the rest: not worth a look among more. */
const UNPLUG_MAX = 10;

export class DrawSearch {
  private readonly known = new Map<string, number>();
  /** By part number: whether some test can name it. Others (airbag circuits) are told apart by readings alone. */
  private readonly nameable: Uint8Array;

  /**
   * @param moves tests, drops that would not show this draw left out
   * @param weights probability of each part number, any scale
   * @param walk_s from one box to another
   * @param exactMax larger for a reference by exhaustive search alone
   */
  constructor(
    private readonly moves: readonly TestMove[],
    private readonly weights: Float64Array,
    private readonly walk_s: number,
    private readonly exactMax = EXACT_MAX,
  ) {
    this.nameable = new Uint8Array(weights.length);
    for (const move of moves) if (move.direct) this.nameable.fill(1, move.first, move.end);
  }

  canName(candidates: number[]): boolean {
    return candidates.some((part) => this.nameable[part] === 1);
  }

  /**
   * Expected seconds until one of `candidates` (part numbers, ascending) is named, or only those are left that no test
   * can name.
   * @param at the box that the hand is at; null where that is not known
   */
  expected_s(candidates: number[], at: string | null): number {
    if (!this.canName(candidates)) return 0;
    const name = `${at} ${candidates.join()}`;
    const known = this.known.get(name);
    if (known !== undefined) return known;
    const value = candidates.length <= this.exactMax ? this.best_s(candidates, at) : this.greedy_s(candidates, at);
    this.known.set(name, value);
    return value;
  }

  /** Seconds of `move` itself, the way to its box included. */
  own_s(move: TestMove, at: string | null): number {
    return walkTo_s(at, move.box, this.walk_s) + move.cost_s;
  }

  /** Expected seconds from before `move`, everything after it as `expected_s`. */
  after_s(move: TestMove, candidates: number[], at: string | null): number {
    const { within, outside, share } = this.split(move, candidates);
    const then = move.box ?? at;
    const found_s = move.direct ? 0 : move.refit_s + this.expected_s(within, then);
    const lost_s = outside.length === 0 ? 0 : move.later_s + this.expected_s(outside, then);
    return this.own_s(move, at) + share * found_s + (1 - share) * lost_s;
  }

  /** Information in bits that `move` gives about the candidates. */
  gain_bits(move: TestMove, candidates: number[]): number {
    return bits(this.split(move, candidates).share);
  }

  /** Tests that tell something about the candidates, most information per second first. */
  ranked(candidates: number[], at: string | null): TestMove[] {
    const sums = this.sums(candidates);
    return this.useful(candidates)
      .map((move) => ({ move, rate: this.rateOf(move, this.shareOf(move, sums), at) }))
      .sort((a, b) => b.rate - a.rate)
      .map(({ move }) => move);
  }

  private split(move: TestMove, candidates: number[]) {
    const within = candidates.filter((part) => part >= move.first && part < move.end);
    const outside = candidates.filter((part) => part < move.first || part >= move.end);
    const sum = (parts: number[]) => parts.reduce((total, part) => total + this.weights[part]!, 0);
    return { within, outside, share: sum(within) / sum(candidates) };
  }

  /** Where several candidates are left: what divides them. Where one is left: what names it. */
  private useful(candidates: number[]): TestMove[] {
    const counts = new Int32Array(this.weights.length + 1);
    const here = new Uint8Array(this.weights.length);
    for (const part of candidates) here[part] = 1;
    for (let part = 0; part < here.length; part++) counts[part + 1] = counts[part]! + here[part]!;
    return this.moves.filter((move) => {
      const within = counts[move.end]! - counts[move.first]!;
      if (within === 0) return false;
      if (candidates.length === 1) return move.direct;
      if (move.kind === 'unplug' && candidates.length > UNPLUG_MAX) return false;
      return within < candidates.length;
    });
  }

  private sums(candidates: number[]): Float64Array {
    const sums = new Float64Array(this.weights.length + 1);
    const here = new Uint8Array(this.weights.length);
    for (const part of candidates) here[part] = 1;
    for (let part = 0; part < here.length; part++)
      sums[part + 1] = sums[part]! + (here[part] === 1 ? this.weights[part]! : 0);
    return sums;
  }

  private shareOf(move: TestMove, sums: Float64Array): number {
    return (sums[move.end]! - sums[move.first]!) / sums[sums.length - 1]!;
  }

  private best_s(candidates: number[], at: string | null): number {
    let best = Infinity;
    for (const move of this.useful(candidates)) best = Math.min(best, this.after_s(move, candidates, at));
    return best;
  }

  private greedy_s(candidates: number[], at: string | null): number {
    const sums = this.sums(candidates);
    let best: TestMove | null = null;
    let bestRate = 0;
    for (const move of this.useful(candidates)) {
      const rate = this.rateOf(move, this.shareOf(move, sums), at);
      if (rate > bestRate) [best, bestRate] = [move, rate];
    }
    return best === null ? Infinity : this.after_s(best, candidates, at);
  }

  /** Information per second, what the likely answers cost afterwards included. */
  private rateOf(move: TestMove, share: number, at: string | null): number {
    const cost_s = this.own_s(move, at) + share * (move.direct ? 0 : move.refit_s) + (1 - share) * move.later_s;
    return Math.max(bits(share), 1e-9) / cost_s;
  }
}

function bits(share: number): number {
  if (share <= 0 || share >= 1) return 0;
  return -share * Math.log2(share) - (1 - share) * Math.log2(1 - share);
}
