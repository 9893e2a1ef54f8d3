// How noisy the ticks are, whatever steps and pulses lie in them. Sigma is the MAD of
// first differences (Hampel 1974; 1.4826 = 1 / the normal quantile at 3/4), which a few
// edges do not move. Noise that remembers itself makes means of many ticks less sure
// than sigma / sqrt(m) says: the same estimate on medians of 8 and 32 ticks, which short
// pulses do not reach, tells by how much. O(ticks log ticks).

/** Blocks that must remain for an estimate on longer means to be believed. */
const BLOCKS_MIN = 100;
export const NORMAL_MAD = 1.4826;
const MEMORY_BLOCKS = [8, 32];
/** Variance of a median over that of a mean, normal noise: pi / 2 for long blocks, a little less for short. */
const MEDIAN_COST = 1.5;

export interface Scale {
  /** Noise of one tick, mA. */
  sigma_mA: number;
  /** How many times the variance of a long mean is that of independent ticks; 1 or more. */
  memory: number;
  /** Smallest change that the samples show; next to nothing for fine data. */
  code_mA: number;
}

/** Up to so many values the overhead of a typed array's own sort is larger than its work. */
const FEW = 48;

/** Ascending, in place. */
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

/** 1.4826 x MAD; sorts a copy. */
export function madSigma(values: Float64Array): number {
  if (values.length === 0) return 0;
  const sorted = sortInPlace(values.slice());
  const middle = sorted[sorted.length >> 1]!;
  for (let i = 0; i < sorted.length; i++) sorted[i] = Math.abs(sorted[i]! - middle);
  sortInPlace(sorted);
  return NORMAL_MAD * sorted[sorted.length >> 1]!;
}

export function differences(y: Float64Array): Float64Array {
  const out = new Float64Array(Math.max(0, y.length - 1));
  for (let i = 0; i < out.length; i++) out[i] = y[i + 1]! - y[i]!;
  return out;
}

/** Median of each full block of m ticks: pulses shorter than half a block leave it alone. */
function blockMedians(y: Float64Array, m: number): Float64Array {
  const out = new Float64Array(Math.floor(y.length / m));
  for (let i = 0; i < out.length; i++) {
    const block = sortInPlace(y.slice(i * m, (i + 1) * m));
    out[i] = (block[(m - 1) >> 1]! + block[m >> 1]!) / 2;
  }
  return out;
}

/**
 * Of neighbouring samples, the share that must differ before their smallest change is a resolution: codes that stand
 * still hide no noise.
 */
const CHANGING_SHARE = 0.005;

/** Smallest change between neighbouring samples: the resolution of coarse data, next to nothing for fine. */
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
  return changes > CHANGING_SHARE * count ? smallest : 0;
}

/** `floor_mA`: noise that no data are believed to be below. `code_mA`: resolution of the samples. */
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
