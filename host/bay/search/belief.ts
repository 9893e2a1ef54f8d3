// What is believed about who draws: every set of up to three places that could explain
// the readings, weighed by Bayes' rule. Parts that no reading tells apart form a cell.
//
// A reading is the sum of what lies behind a node. It may be wrong altogether (a wrong
// tap, another fuse pulled), so nothing is ever ruled out for good: a reading that all
// others speak against loses its weight, and the place that it cleared comes back.

import type { FeedTree } from '../tree/tree.ts';

/** A measured sum of what lies behind a node. */
export interface Observation {
  /** -1: the whole car. */
  node: number;
  /** Nodes behind it that were out then, so that they are not in the sum. */
  without: number[];
  amount_mA: number;
  sigma_mA: number;
  /** `total`: the first level of all; `level`: one after a refit or an unrest; the others are differences, or drops. */
  how: 'total' | 'level' | 'pull' | 'unplug' | 'refit' | 'drop';
  /** Seconds on the session's clock. */
  t_s: number;
  /** Where it stands on the trace, once the session's clock has begun anew. */
  trace_s?: number;
  /** As the meter showed it; of a drop alone. */
  drop_mV?: number;
  /** The same for those that were taken down together, so that they are taken back together. */
  batch?: number;
  /** A fall that something else may have caused: the car had just been disturbed. It names nothing by itself. */
  doubtful?: boolean;
}

export interface Cell {
  /** Part numbers. */
  parts: number[];
  /** Prior share, evidence included. */
  weight: number;
}

/** One explanation: the cells that draw, and how much. */
export interface Explanation {
  cells: number[];
  amounts_mA: number[];
  probability: number;
}

export interface Belief {
  cells: Cell[];
  /** Likeliest first. */
  explanations: Explanation[];
  /** Probability of each part number that it draws. */
  parts: Float64Array;
}

/**
 * How often a reading of a kind tells nothing of its node: wrong tap, wrong fuse, wrong number typed. Assumed, no
 * source.
 */
const WRONG: Record<Observation['how'], number> = {
  total: 0.02,
  level: 0.04,
  pull: 0.03,
  unplug: 0.03,
  refit: 0.05,
  drop: 0.03,
};
/** Prior probability of so many faults at once. Assumed, no source. */
const HOW_MANY = [0.02, 0.7, 0.21, 0.07];
/**
 * All parts together draw this when healthy, spread evenly, and how far one part may be from its share. Within the
 * trade's 10 to 30 mA.
 */
const NORMAL_mA = 18;
const NORMAL_SPREAD_PART_mA = 2;
const NORMAL_SPREAD_mA = 10;
/** Flicker of up to 10 mA, as a standard deviation. */
const FLICKER_SIGMA_mA = 5;
/** Less is no fault. */
const AMOUNT_mA_MIN = 12;
/** Amounts are taken as likely at each order of magnitude alike, over two of them. */
const LOG_RANGE = Math.log(100);
/** Single places that are tried with a second, and pairs that are tried with a third: the likeliest. */
const SINGLES_EXTENDED = 15;
const PAIRS_EXTENDED = 15;
const KEPT = 60;

/** One reading, prepared: what is left of it for faults to explain. */
interface Equation {
  excess_mA: number;
  variance: number;
  /** Density of a reading that fits and is off by nothing, times the chance that it tells something. */
  peak: number;
  /** Density of a reading that tells nothing, times the chance of that. */
  stray: number;
  member: Uint8Array;
}

/** @param weights prior share of each part number, any scale */
export function believe(tree: FeedTree, observations: readonly Observation[], weights: Float64Array): Belief {
  const { cells, members } = cellsOf(tree, observations, weights);
  const equations = equationsOf(tree, observations, cells, members);
  const explanations = weigh(cells, equations);
  const parts = new Float64Array(tree.parts.length);
  for (const { cells: places, probability } of explanations) {
    for (const place of places)
      for (const part of cells[place]!.parts)
        parts[part]! += (probability * weights[part]!) / sumOf(cells[place]!.parts, weights);
  }
  return { cells, explanations: explanations.slice(0, KEPT), parts };
}

const sumOf = (parts: number[], weights: Float64Array) => parts.reduce((sum, part) => sum + weights[part]!, 0);

/** Whether a part is in an observation's sum. */
export function counts(tree: FeedTree, observation: Observation, part: number): boolean {
  const within = (id: number) => part >= tree.nodes[id]!.first && part < tree.nodes[id]!.end;
  return (observation.node < 0 || within(observation.node)) && !observation.without.some(within);
}

function cellsOf(
  tree: FeedTree,
  observations: readonly Observation[],
  weights: Float64Array,
): { cells: Cell[]; members: boolean[][] } {
  const byPattern = new Map<string, number[]>();
  for (let part = 0; part < tree.parts.length; part++) {
    let pattern = '';
    for (const observation of observations) pattern += counts(tree, observation, part) ? '1' : '0';
    const known = byPattern.get(pattern);
    if (known === undefined) byPattern.set(pattern, [part]);
    else known.push(part);
  }
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const entries = [...byPattern];
  return {
    cells: entries.map(([, parts]) => ({ parts, weight: sumOf(parts, weights) / total })),
    members: observations.map((_, j) => entries.map(([pattern]) => pattern[j] === '1')),
  };
}

function equationsOf(
  tree: FeedTree,
  observations: readonly Observation[],
  cells: Cell[],
  members: boolean[][],
): Equation[] {
  const total = observations.find((one) => one.how === 'total')?.amount_mA ?? 0;
  return observations.map((one, j) => {
    const count = cells.reduce((sum, cell, c) => sum + (members[j]![c]! ? cell.parts.length : 0), 0);
    const share_mA = (NORMAL_mA * count) / tree.parts.length;
    const normal_mA = Math.min(NORMAL_SPREAD_mA, NORMAL_SPREAD_PART_mA * Math.sqrt(count));
    const excess_mA = one.amount_mA - share_mA;
    const variance = one.sigma_mA ** 2 + FLICKER_SIGMA_mA ** 2 + normal_mA ** 2;
    // A reading of the wrong node finds nothing there, or finds what it would have found elsewhere.
    const stray =
      0.5 * density(excess_mA, variance) +
      0.2 * density(excess_mA - total + NORMAL_mA, variance + NORMAL_SPREAD_mA ** 2) +
      0.3 / Math.max(500, total);
    const wrong = WRONG[one.how];
    return {
      excess_mA,
      variance,
      peak: (1 - wrong) / Math.sqrt(2 * Math.PI * variance),
      stray: wrong * stray,
      member: Uint8Array.from(members[j]!, Number),
    };
  });
}

const density = (off: number, variance: number) =>
  Math.exp((-off * off) / (2 * variance)) / Math.sqrt(2 * Math.PI * variance);

function weigh(cells: Cell[], equations: Equation[]): Explanation[] {
  const all: (Explanation & { log: number })[] = [];
  const add = (places: number[]) => {
    const fitted = fit(places, equations);
    let log = fitted.log + Math.log(HOW_MANY[places.length]!);
    places.forEach((place, k) => (log += Math.log(cells[place]!.weight * (k + 1))));
    const entry = { cells: places, amounts_mA: fitted.amounts_mA, probability: 0, log };
    all.push(entry);
    return entry;
  };
  add([]);
  const extend = (from: { cells: number[]; log: number }[], most: number) => {
    const tried = new Set<number>();
    return [...from]
      .sort((a, b) => b.log - a.log)
      .slice(0, most)
      .flatMap((one) =>
        cells.flatMap((_, c) => {
          if (one.cells.includes(c)) return [];
          const places = [...one.cells, c].sort((a, b) => a - b);
          const name = places.reduce((sum, place) => sum * cells.length + place, 0);
          if (tried.has(name)) return [];
          tried.add(name);
          return [add(places)];
        }),
      );
  };
  const singles = cells.map((_, c) => add([c]));
  extend(extend(singles, SINGLES_EXTENDED), PAIRS_EXTENDED);
  const top = all.reduce((best, one) => Math.max(best, one.log), -Infinity);
  const sum = all.reduce((total, one) => total + Math.exp(one.log - top), 0);
  for (const one of all) one.probability = Math.exp(one.log - top) / sum;
  return all
    .sort((a, b) => b.probability - a.probability)
    .map(({ cells: places, amounts_mA, probability }) => ({ cells: places, amounts_mA, probability }));
}

/** Amounts by least squares, readings that do not fit counting less each round; and how well they explain all. */
function fit(places: number[], equations: Equation[]): { amounts_mA: number[]; log: number } {
  const k = places.length;
  const trust = new Float64Array(equations.length).fill(1);
  let amounts = new Float64Array(k);
  let log = 0;
  for (let round = 0; round < (k === 0 ? 1 : 3); round++) {
    if (k > 0) amounts = solve(places, equations, trust);
    log = 0;
    let product = 1;
    for (let j = 0; j < equations.length; j++) {
      const equation = equations[j]!;
      let off = equation.excess_mA;
      for (let i = 0; i < k; i++) if (equation.member[places[i]!]) off -= amounts[i]!;
      const fits = equation.peak * Math.exp((-off * off) / (2 * equation.variance));
      trust[j] = fits / (fits + equation.stray);
      product *= fits + equation.stray;
      // One logarithm for several factors, before the product leaves what a double can hold.
      if (product < 1e-200) {
        log += Math.log(product);
        product = 1;
      }
    }
    log += Math.log(product);
  }
  // Each free amount costs: the share of its prior range that the readings leave it.
  for (let i = 0; i < k; i++) {
    let information = 1e-6;
    for (let j = 0; j < equations.length; j++)
      if (equations[j]!.member[places[i]!]) information += trust[j]! / equations[j]!.variance;
    log += Math.log(
      Math.min(1, Math.sqrt((2 * Math.PI) / information) / (Math.max(AMOUNT_mA_MIN, amounts[i]!) * LOG_RANGE)),
    );
  }
  return { amounts_mA: [...amounts], log };
}

function solve(places: number[], equations: Equation[], trust: Float64Array): Float64Array<ArrayBuffer> {
  const k = places.length;
  // A faint pull towards small amounts keeps what no reading tells apart from running away.
  const matrix = Array.from({ length: k }, (_, i) => Float64Array.from({ length: k }, (_, l) => (i === l ? 1e-6 : 0)));
  const right = new Float64Array(k);
  for (let j = 0; j < equations.length; j++) {
    const equation = equations[j]!;
    const weight = trust[j]! / equation.variance;
    for (let i = 0; i < k; i++) {
      if (equation.member[places[i]!] === 0) continue;
      right[i]! += weight * equation.excess_mA;
      for (let l = 0; l < k; l++) if (equation.member[places[l]!]) matrix[i]![l]! += weight;
    }
  }
  for (let i = 0; i < k; i++) {
    for (let row = i + 1; row < k; row++) {
      const factor = matrix[row]![i]! / matrix[i]![i]!;
      for (let l = i; l < k; l++) matrix[row]![l]! -= factor * matrix[i]![l]!;
      right[row]! -= factor * right[i]!;
    }
  }
  const amounts = new Float64Array(k);
  for (let i = k - 1; i >= 0; i--) {
    let sum = right[i]!;
    for (let l = i + 1; l < k; l++) sum -= matrix[i]![l]! * amounts[l]!;
    amounts[i] = sum / matrix[i]![i]!;
  }
  for (let i = 0; i < k; i++) amounts[i] = Math.max(AMOUNT_mA_MIN, amounts[i]!);
  return amounts;
}

/** One draw that is looked for, or found: its size, and the probability of each part that it is the one. */
export interface Draw {
  amount_mA: number;
  parts: Float64Array;
}

/**
 * The draws of the likeliest explanation, largest first, each with what speaks for
 * other places for it, the others left where they are.
 */
export function drawsOf(belief: Belief, weights: Float64Array): Draw[] {
  const best = belief.explanations[0]!;
  const alike = belief.explanations.filter((one) => one.cells.length === best.cells.length);
  return best.cells
    .map((place, k) => {
      const others = best.cells.filter((other) => other !== place);
      const share = new Float64Array(belief.cells.length);
      for (const one of alike) {
        if (!others.every((other) => one.cells.includes(other))) continue;
        share[one.cells.find((cell) => !others.includes(cell))!]! += one.probability;
      }
      const parts = new Float64Array(weights.length);
      const sum = share.reduce((total, value) => total + value, 0);
      belief.cells.forEach((cell, c) => {
        if (share[c]! === 0) return;
        const all = sumOf(cell.parts, weights);
        for (const part of cell.parts) parts[part] = ((share[c]! / sum) * weights[part]!) / all;
      });
      return { amount_mA: best.amounts_mA[k]!, parts };
    })
    .sort((a, b) => b.amount_mA - a.amount_mA);
}
