// How noisy the ticks are, whatever steps and pulses lie in them. Sigma comes from the median
// absolute deviation (MAD) of first differences (Hampel 1974), which a few edges do not move. Where
// noise is correlated from tick to tick, the mean of m ticks is less certain than sigma / sqrt(m);
// the same estimate on medians of 8 and of 32 ticks, which short pulses do not reach, gives the
// factor. O(ticks log ticks).

/** Fewest blocks that an estimate on longer means may rest on. */
const BLOCKS_MIN = 100;
/** Standard deviation of normal noise over its MAD: 1 / the normal quantile at 3/4. */
export const NORMAL_MAD = 1.4826;
const MEMORY_BLOCKS = [8, 32];
/**
 * Variance of a median over that of a mean, for normal noise: pi / 2 for long blocks, a little less for
 * short ones.
 */
const MEDIAN_COST = 1.5;

/** How noisy the ticks of a trace are, and how fine its samples. */
export interface Scale {
  /** Standard deviation of the noise of one tick, mA. */
  sigma_mA: number;
  /** Variance of the mean of many ticks over what independent ticks would give; 1 or more. */
  memory: number;
  /** Smallest change that the samples show, mA; 0 or next to it for fine data. */
  code_mA: number;
}

/** Up to this many values, a typed array's own sort costs more in overhead than in work. */
const FEW = 48;

/** Sorts ascending, in place, and returns the same array. O(n log n). */
export function sortInPlace(values: Float64Array): Float64Array {
  if (values.length > FEW) return values.sort();
  for (let i = 1; i < values.length; i++) {
    const value = values[i]!;
    let k = i;
    for (; k > 0 && values[k - 1]! > value; k--) values[k] = values[k - 1]!;
    values[k] = value;
  }
  return values;
}

/**
 * Standard deviation of normal noise, from its MAD: outliers up to half of the values do not move
 * it. 0 for no values. Leaves `values` as they are. O(n log n). Source: Hampel 1974.
 */
export function madSigma(values: Float64Array): number {
  if (values.length === 0) return 0;
  const sorted = sortInPlace(values.slice());
  const middle = sorted[sorted.length >> 1]!;
  for (let i = 0; i < sorted.length; i++) sorted[i] = Math.abs(sorted[i]! - middle);
  sortInPlace(sorted);
  return NORMAL_MAD * sorted[sorted.length >> 1]!;
}

/** Each value minus the one before it: one fewer than `y` has. O(n). */
export function differences(y: Float64Array): Float64Array {
  const out = new Float64Array(Math.max(0, y.length - 1));
  for (let i = 0; i < out.length; i++) out[i] = y[i + 1]! - y[i]!;
  return out;
}

/** Median of each full block of m ticks. Pulses shorter than half a block do not change it. */
function blockMedians(y: Float64Array, m: number): Float64Array {
  const out = new Float64Array(Math.floor(y.length / m));
  for (let i = 0; i < out.length; i++) {
    const block = sortInPlace(y.slice(i * m, (i + 1) * m));
    out[i] = (block[(m - 1) >> 1]! + block[m >> 1]!) / 2;
  }
  return out;
}

/**
 * Share of neighbouring samples that must differ before their smallest change counts as a
 * resolution. Where codes hardly ever change, they hide no noise.
 */
const CHANGING_SHARE = 0.005;
/** Fewest such changes: those of two or three wake-ups among samples that are all alike are no resolution. */
const CHANGES_MIN = 10;

/**
 * Smallest change between neighbouring samples, in their own unit: the resolution of coarse data,
 * next to nothing for fine data, 0 where samples hardly change. Looks at the first 50 000 samples.
 */
export function resolutionOf(samples: ArrayLike<number>): number {
  let smallest = Infinity;
  let changes = 0;
  const count = Math.min(samples.length, 50_000);
  for (let i = 1; i < count; i++) {
    const change = Math.abs(samples[i]! - samples[i - 1]!);
    if (change === 0) continue;
    changes++;
    if (change < smallest) smallest = change;
  }
  return changes > Math.max(CHANGES_MIN, CHANGING_SHARE * count) ? smallest : 0;
}

/**
 * How noisy the ticks are. O(ticks log ticks). Source of sigma: Hampel 1974.
 *
 * @param tickMeans mean current of each tick, mA
 * @param floor_mA the least noise that any data are taken to have
 * @param code_mA resolution of the samples, as `resolutionOf` gives it
 */
export function scaleOf(tickMeans: Float64Array, floor_mA: number, code_mA = 0): Scale {
  const sigma_mA = Math.max(floor_mA, madSigma(differences(tickMeans)) / Math.SQRT2);
  let memory = 1;
  for (const m of MEMORY_BLOCKS) {
    if (tickMeans.length < m * BLOCKS_MIN) break;
    const sigma = madSigma(differences(blockMedians(tickMeans, m))) / Math.SQRT2;
    memory = Math.max(memory, (m * sigma * sigma) / (MEDIAN_COST * sigma_mA * sigma_mA));
  }
  return { sigma_mA, memory, code_mA };
}
