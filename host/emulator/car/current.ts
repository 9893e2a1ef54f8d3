// A current as a sum of steps, inrushes, pulse trains and a share that follows
// temperature: its value at any time, and its exact integral in closed form.

import { bisector, bisectRight } from 'd3-array';
import type { Climate } from './climate.ts';
import type { PulseTrain } from './spec.ts';

/** Constant from `start_s` up to `end_s` (Infinity: for good). */
export interface Block {
  start_s: number;
  end_s: number;
  mA: number;
}

/** peak_mA x exp(-(t - start_s) / tau_s) from `start_s` up to `end_s`. */
export interface Surge {
  start_s: number;
  end_s: number;
  peak_mA: number;
  tau_s: number;
}

const bisectSurge = bisector((surge: Surge) => surge.start_s);

export class Current {
  /** Times at which the sum of the blocks changes, that sum from there on, and its charge up to there. */
  private readonly times_s: number[] = [];
  private readonly levels_mA: number[] = [];
  private readonly charges_mC: number[] = [];
  private readonly surges: Surge[];
  /** Whole charge of all surges before the one of the same index. */
  private readonly surgeCharges_mC: number[] = [0];
  private readonly longestSurge_s: number;
  /** Most look-ups follow the one before. */
  private at = 0;

  constructor(
    blocks: Block[],
    surges: Surge[],
    private readonly trains: PulseTrain[],
    private readonly perDegree_mA: number,
    private readonly climate: Climate,
  ) {
    const changes = new Map<number, number>([[0, 0]]);
    const change = (t_s: number, mA: number) =>
      changes.set(Math.max(0, t_s), (changes.get(Math.max(0, t_s)) ?? 0) + mA);
    for (const block of blocks) {
      change(block.start_s, block.mA);
      if (block.end_s !== Infinity) change(block.end_s, -block.mA);
    }
    let level = 0;
    let charge = 0;
    for (const t_s of [...changes.keys()].sort((a, b) => a - b)) {
      const before = this.times_s.length - 1;
      if (before >= 0) charge += level * (t_s - this.times_s[before]!);
      level += changes.get(t_s)!;
      this.times_s.push(t_s);
      this.levels_mA.push(level);
      this.charges_mC.push(charge);
    }
    this.surges = [...surges].sort((a, b) => a.start_s - b.start_s);
    for (const surge of this.surges)
      this.surgeCharges_mC.push(this.surgeCharges_mC.at(-1)! + surgeCharge_mC(surge, surge.end_s));
    this.longestSurge_s = Math.max(0, ...surges.map((surge) => surge.end_s - surge.start_s));
  }

  /** Value at `t_s`; at a step, the value after it. */
  at_mA(t_s: number): number {
    let sum = this.levels_mA[this.find(t_s)]! + this.perDegree_mA * (this.climate.temperature_C(t_s) - 20);
    for (const { from_s, period_s, on_s, mA } of this.trains) {
      if (t_s >= from_s && (t_s - from_s) % period_s < on_s) sum += mA;
    }
    for (let i = this.lastSurge(t_s); i >= 0 && this.surges[i]!.start_s + this.longestSurge_s > t_s; i--) {
      const surge = this.surges[i]!;
      if (t_s < surge.end_s) sum += surge.peak_mA * Math.exp(-(t_s - surge.start_s) / surge.tau_s);
    }
    return sum;
  }

  /** Integral from 0 to `t_s`, in mA x s. */
  charge_mC(t_s: number): number {
    const i = this.find(t_s);
    let sum = this.charges_mC[i]! + this.levels_mA[i]! * (t_s - this.times_s[i]!);
    if (this.perDegree_mA !== 0) sum += this.perDegree_mA * (this.climate.integral_Cs(t_s) - 20 * t_s);
    for (const { from_s, period_s, on_s, mA } of this.trains) {
      if (t_s <= from_s) continue;
      const turns = Math.floor((t_s - from_s) / period_s);
      sum += mA * (turns * on_s + Math.min(on_s, t_s - from_s - turns * period_s));
    }
    let last = this.lastSurge(t_s);
    for (; last >= 0 && this.surges[last]!.start_s + this.longestSurge_s > t_s; last--)
      sum += surgeCharge_mC(this.surges[last]!, t_s);
    return sum + this.surgeCharges_mC[last + 1]!;
  }

  private find(t_s: number): number {
    const { times_s } = this;
    if (!(t_s >= times_s[this.at]! && t_s < (times_s[this.at + 1] ?? Infinity)))
      this.at = bisectRight(times_s, t_s) - 1;
    return this.at;
  }

  private lastSurge(t_s: number): number {
    return bisectSurge.right(this.surges, t_s) - 1;
  }
}

function surgeCharge_mC(surge: Surge, until_s: number): number {
  const length_s = Math.min(until_s, surge.end_s) - surge.start_s;
  return length_s <= 0 ? 0 : surge.peak_mA * surge.tau_s * -Math.expm1(-length_s / surge.tau_s);
}
