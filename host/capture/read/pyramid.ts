// Minimum, maximum and time-weighted sum of any run of samples, without looking at each:
// complete groups of samples, groups of groups, and so on, made once from a trace in memory.

/** Samples in a group of the lowest storey, and groups in one of the next. */
const SAMPLES = 64;
const GROUPS = 16;

/** What a run of samples comes to. Starts as nothing: weight 0, minimum above maximum. */
export interface Gathered {
  min: number;
  max: number;
  /** Seconds that the samples cover. */
  weight: number;
  /** Seconds times value. */
  sum: number;
}

export const nothingYet = (): Gathered => ({ min: Infinity, max: -Infinity, weight: 0, sum: 0 });

/** The samples as the pyramid sees them, each by its index. */
export interface Ground {
  count: number;
  mean: ArrayLike<number>;
  min: ArrayLike<number>;
  max: ArrayLike<number>;
  /** Seconds that sample i covers. */
  weightOf(i: number): number;
}

interface Storey {
  count: number;
  min: Float64Array;
  max: Float64Array;
  weight: Float64Array;
  sum: Float64Array;
}

export class Pyramid {
  private readonly storeys: Storey[] = [];

  constructor(private readonly ground: Ground) {
    for (let count = Math.floor(ground.count / SAMPLES); count > 0; count = Math.floor(count / GROUPS)) {
      this.storeys.push(this.build(count));
    }
  }

  /** Adds samples [from, to) to `into`. */
  gather(from: number, to: number, into: Gathered): void {
    this.climb(from, to, -1, into);
  }

  /** @param storey -1: the samples themselves */
  private climb(from: number, to: number, storey: number, into: Gathered): void {
    const fan = storey < 0 ? SAMPLES : GROUPS;
    const above = this.storeys[storey + 1];
    const first = Math.ceil(from / fan),
      last = Math.min(Math.floor(to / fan), above?.count ?? 0);
    if (last <= first) return this.walk(from, to, storey, into);
    this.walk(from, first * fan, storey, into);
    this.climb(first, last, storey + 1, into);
    this.walk(last * fan, to, storey, into);
  }

  private walk(from: number, to: number, storey: number, into: Gathered): void {
    if (storey >= 0) return addGroups(this.storeys[storey]!, from, to, into);
    const { mean, min, max } = this.ground;
    for (let i = from; i < to; i++) {
      const weight = this.ground.weightOf(i);
      // What takes no time is in no bin.
      if (!(weight > 0)) continue;
      into.weight += weight;
      into.sum += weight * mean[i]!;
      if (min[i]! < into.min) into.min = min[i]!;
      if (max[i]! > into.max) into.max = max[i]!;
    }
  }

  private build(count: number): Storey {
    const column = () => new Float64Array(count);
    const storey: Storey = { count, min: column(), max: column(), weight: column(), sum: column() };
    const below = this.storeys.length - 1;
    const fan = below < 0 ? SAMPLES : GROUPS;
    for (let g = 0; g < count; g++) {
      const all = nothingYet();
      this.walk(g * fan, (g + 1) * fan, below, all);
      storey.min[g] = all.min;
      storey.max[g] = all.max;
      storey.weight[g] = all.weight;
      storey.sum[g] = all.sum;
    }
    return storey;
  }
}

function addGroups(storey: Storey, from: number, to: number, into: Gathered): void {
  for (let g = from; g < to; g++) {
    into.weight += storey.weight[g]!;
    into.sum += storey.sum[g]!;
    if (storey.min[g]! < into.min) into.min = storey.min[g]!;
    if (storey.max[g]! > into.max) into.max = storey.max[g]!;
  }
}
