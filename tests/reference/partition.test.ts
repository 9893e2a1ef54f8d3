// The segmentation core against exact optima of other implementations, and the standard
// test signals of Donoho & Johnstone (1994) and Fryzlewicz (2014). Data and versions of
// the implementations: data/SOURCES.md and the file's own "about".

import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { partition } from '../../host/analysis/levels/fpop.ts';
import { differences, madSigma } from '../../host/analysis/ticks/scale.ts';
import { normalFrom, randomFrom } from '../unit/analysis/night.ts';

interface Series {
  values: number[];
  sigmaMadDiff: number;
  optimalPartitioning: { penaltyRule: string; beta: number; changes: number[]; objective: number }[];
  biweight: { penaltyRule: string; beta: number; K: number; objectiveBruteForce: number }[];
}

const file = new URL('./data/changepoint-reference.json', import.meta.url);
const reference = (JSON.parse(readFileSync(file, 'utf8')) as { series: Record<string, Series> }).series;

/** Squared residuals about segment means, plus the penalty for each change: computed afresh from the positions. */
function objectiveOf(y: Float64Array, changes: number[], penalty: number): number {
  const starts = [0, ...changes, y.length];
  let sum = penalty * changes.length;
  for (let j = 0; j + 1 < starts.length; j++) {
    const part = y.slice(starts[j], starts[j + 1]);
    const mean = part.reduce((a, b) => a + b, 0) / part.length;
    for (const value of part) sum += (value - mean) ** 2;
  }
  return sum;
}

describe.each(Object.keys(reference))('%s', (name) => {
  const series = reference[name]!;
  const y = Float64Array.from(series.values);

  test('sigma from first differences', () => {
    // The file's own definition takes the median of |d - median(d)| as R does, the mean of the middle two.
    expect(madSigma(differences(y)) / Math.SQRT2 / series.sigmaMadDiff).toBeCloseTo(1, 1);
  });

  test.each(series.optimalPartitioning)('squared error, $penaltyRule', ({ beta, changes, objective }) => {
    const found = partition(y, beta);
    expect(found.changes).toEqual(changes);
    expect(Math.abs(found.objective / objective - 1)).toBeLessThan(1e-9);
    expect(Math.abs(objectiveOf(y, found.changes, beta) / objective - 1)).toBeLessThan(1e-9);
  });

  test.each(series.biweight)('biweight, $penaltyRule', ({ beta, K, objectiveBruteForce }) => {
    expect(Math.abs(partition(y, beta, K).objective / objectiveBruteForce - 1)).toBeLessThan(1e-9);
  });
});

const stairs = (count: number, each: number, level: (i: number) => number) => ({
  ends: Array.from({ length: count - 1 }, (_, i) => (i + 1) * each),
  levels: Array.from({ length: count }, (_, i) => level(i)),
  n: count * each,
});

/**
 * Ends are the last index of each old segment, counted from 1. `exact`: runs in 100 with the right number of changes,
 * FPOP at 2 ln n as measured with the published signals.
 */
const SIGNALS = [
  {
    name: 'blocks',
    n: 2048,
    sigma: 10,
    exact: 55,
    ends: [204, 266, 307, 471, 511, 819, 901, 1331, 1556, 1597, 1658],
    levels: [0, 14.64, -3.66, 7.32, -7.32, 10.98, -4.39, 3.29, 19.03, 7.68, 15.37, 0],
  },
  {
    name: 'fms',
    n: 497,
    sigma: 0.3,
    exact: 89,
    ends: [138, 225, 242, 299, 308, 332],
    levels: [-0.18, 0.08, 1.07, -0.53, 0.16, -0.69, -0.16],
  },
  {
    name: 'mix',
    n: 560,
    sigma: 4,
    exact: 26,
    ends: [10, 20, 40, 60, 90, 120, 160, 200, 250, 300, 360, 420, 490],
    levels: [7, -7, 6, -6, 5, -5, 4, -4, 3, -3, 2, -2, 1, -1],
  },
  { name: 'teeth10', sigma: 0.4, exact: 56, ...stairs(14, 10, (i) => i % 2) },
  { name: 'stairs10', sigma: 0.3, exact: 94, ...stairs(15, 10, (i) => i + 1) },
];

describe('standard signals', () => {
  const runs = process.env['NIGHTDRAW_SOAK'] === '1' ? 1000 : 200;
  test.each(SIGNALS)(
    '$name: as often exactly right as measured elsewhere ($exact in 100)',
    ({ n, sigma, exact, ends, levels }) => {
      const normal = normalFrom(randomFrom(1994));
      let right = 0;
      for (let run = 0; run < runs; run++) {
        let k = 0;
        const y = Float64Array.from({ length: n }, (_, i) => {
          if (k < ends.length && i >= ends[k]!) k++;
          return levels[k]! + sigma * normal();
        });
        const scale = madSigma(differences(y)) / Math.SQRT2;
        if (partition(y, 2 * scale * scale * Math.log(n)).changes.length === ends.length) right++;
      }
      // Both figures are counts of runs: three standard errors of ours and of a hundred of theirs.
      const share = exact / 100;
      const slack = 3 * Math.sqrt(share * (1 - share) * (1 / runs + 1 / 100));
      expect(Math.abs(right / runs - share)).toBeLessThan(slack);
    },
  );
});

/** Optimal partitioning by its recursion (Jackson et al. 2005), O(n^2), for squared error. */
function bruteForce(y: Float64Array, penalty: number): number {
  const best = new Float64Array(y.length + 1);
  best[0] = -penalty;
  for (let end = 1; end <= y.length; end++) {
    best[end] = Infinity;
    let sum = 0;
    let squares = 0;
    for (let start = end - 1; start >= 0; start--) {
      sum += y[start]!;
      squares += y[start]! ** 2;
      best[end] = Math.min(best[end]!, best[start]! + penalty + squares - (sum * sum) / (end - start));
    }
  }
  return best[y.length]!;
}

test('any series: pruning loses nothing', () => {
  const value = fc.oneof(
    fc.double({ min: -100, max: 100, noNaN: true }),
    fc.integer({ min: 0, max: 5 }),
    fc.constantFrom(0, 50),
  );
  fc.assert(
    fc.property(
      fc.array(value, { minLength: 1, maxLength: 60 }),
      fc.double({ min: 0.01, max: 500, noNaN: true }),
      (values, penalty) => {
        const y = Float64Array.from(values);
        const { changes, objective } = partition(y, penalty);
        const wanted = bruteForce(y, penalty);
        expect(objective).toBeCloseTo(wanted, 6);
        expect(objectiveOf(y, changes, penalty)).toBeCloseTo(wanted, 6);
      },
    ),
    { numRuns: 500, seed: 2005 },
  );
});
