// Trains of pulses that show in the ticks themselves: ticks whose current swings as far as a wake-up
// rises and comes back, following one another within a few seconds, from the same bottom and to about
// the same height.

import { median } from 'd3-array';
import type { Samples } from '../../contract/capture.ts';
import { madSigma, sortInPlace } from '../ticks/scale.ts';
import type { Ticks } from '../ticks/ticks.ts';
import { isTrain, longestPeriod, PULSES_MIN, sameHeight, TRAIN_HEIGHTS, upperDecile } from './trains.ts';
import type { Train } from './trains.ts';

/** Least height of a train's pulses over the noise, as a share of the smallest rise: a poll may be cut in two. */
const MEMBER_SHARE = 0.5;
/** The same for the weaker pulses of trains that were seen, and filled less than so much of the time between them. */
const WEAK_SHARE = 0.25;
const SEEN_THROUGHOUT = 0.5;
/** How far the bottoms of one train's ticks may differ, as a share of its swing. */
const SAME_BOTTOM = 0.3;
/** Share of the ticks that counts as quiet when the swing of noise is measured. */
const QUIET_SHARE = 0.05;

/** Samples that noise is measured by, evenly spread over longer traces. */
const SAMPLES_LOOKED_AT = 8192;
/** Ticks whose noise is measured together, and by how many of their samples. */
const TICKS_ALIKE = 8;
const SAMPLES_TOGETHER = 48;
/** Ticks of a train whose pulses are measured, evenly spread over it: enough for their usual length. */
const TICKS_LOOKED_AT = 48;
/**
 * How far noise lifts the highest of a tick's samples over their mean, in sigmas: of a thousand samples
 * the highest exceeds 4.5 once in 300 ticks.
 */
const SWING_SIGMAS = 4.5;

/** How far the highest current of quiet ticks lies over their mean, mA: noise. */
function quietSwing(ticks: Ticks): number {
  const over = new Float64Array(ticks.count);
  for (let k = 0; k < ticks.count; k++) over[k] = ticks.high[k]! - ticks.mean[k]!;
  over.sort();
  return over[Math.floor(over.length * QUIET_SHARE)] ?? 0;
}

/**
 * The same from samples, for nights in which no tick is quiet: most samples lie in no pulse, so that
 * the medians of their ranges and of their differences are noise.
 */
function noiseSwing(means: Samples, highs: Samples, from: number, to: number, looked: number): number {
  const stride = Math.max(1, Math.floor((to - from) / looked));
  const count = Math.floor((to - from - 1) / stride);
  const steps = new Float64Array(Math.max(0, count));
  const ranges = new Float64Array(steps.length);
  for (let n = 0; n < steps.length; n++) {
    const i = from + n * stride;
    steps[n] = means[i + 1]! - means[i]!;
    ranges[n] = highs[i]! - means[i]!;
  }
  // Points have no range of their own.
  if (highs !== means) sortInPlace(ranges);
  return (ranges[ranges.length >> 1] ?? 0) + (SWING_SIGMAS * madSigma(steps)) / Math.SQRT2;
}

/**
 * The same around one tick, for noise that grows with the load: what is quiet by the standard of the
 * night is not so for a car that draws amperes. The largest of the figures beside the tick, each from
 * few samples and kept in `known`.
 */
function swingAround(means: Samples, highs: Samples, ticks: Ticks, tick: number, known: Float64Array): number {
  let most = 0;
  const last = Math.floor(Math.min(ticks.count - 1, tick + 1) / TICKS_ALIKE);
  for (let g = Math.floor(Math.max(0, tick - 1) / TICKS_ALIKE); g <= last; g++) {
    if (known[g] === 0)
      known[g] = noiseSwing(
        means,
        highs,
        ticks.start[g * TICKS_ALIKE]!,
        ticks.start[Math.min(ticks.count, (g + 1) * TICKS_ALIKE)]!,
        SAMPLES_TOGETHER,
      );
    most = Math.max(most, known[g]!);
  }
  return most;
}

/** True when the current comes back within tick k or the next: a pulse does, an edge does not. */
function returns(ticks: Ticks, k: number): boolean {
  const low = ticks.low[k]!;
  const near = SAME_BOTTOM * (ticks.high[k]! - low);
  return (
    (k === 0 || Math.abs(ticks.low[k - 1]! - low) <= near) &&
    (k + 1 >= ticks.count || Math.abs(ticks.low[k + 1]! - low) <= near)
  );
}

/** At most `many` of the values, evenly spread, with the first and the last. */
function evenly(values: number[], many: number): number[] {
  if (values.length <= many) return values;
  return Array.from({ length: many }, (_, i) => values[Math.round((i * (values.length - 1)) / (many - 1))]!);
}

/**
 * The samples of a tick that lie over the middle of its swing: from the first to the last of them, the
 * longest run, and where runs begin. A tick may hold several pulses, or only part of one. O(samples in it).
 *
 * @param highs highest current of each sample, mA
 * @param quiet_mA swing of ticks without pulses, by which noise lifts the highest over the lowest
 */
export function pulseIn(
  highs: Samples,
  ticks: Ticks,
  tick: number,
  quiet_mA = 0,
): { from: number; to: number; longest: number; starts: number[] } {
  const middle = (ticks.low[tick]! + quiet_mA + ticks.high[tick]!) / 2;
  let from = ticks.start[tick]!;
  let to = ticks.start[tick + 1]!;
  while (from + 1 < to && highs[from]! < middle) from++;
  while (to - 1 > from && highs[to - 1]! < middle) to--;
  // A pulse cut by the bounds of the tick is followed beyond them, for a tick at most.
  const first = ticks.start[Math.max(0, tick - 1)]!;
  const last = ticks.start[Math.min(ticks.count, tick + 2)]!;
  let longest = 1;
  const starts: number[] = [];
  let run = 0;
  for (let i = from - 1; i >= first && highs[i]! >= middle; i--) run++;
  for (let i = from; i < to; i++) {
    if (highs[i]! < middle) {
      run = 0;
      continue;
    }
    if (++run === 1) starts.push(i);
    if (run > longest) longest = run;
  }
  for (let i = to; i < last && run > 0 && highs[i]! >= middle; i++) run++;
  return { from, to, longest: Math.max(longest, run), starts };
}

/** The train made of these ticks; null where they hold too few pulses. */
function trainOf(run: number[], highs: Samples, ticks: Ticks): Train | null {
  const swing = (k: number) => ticks.high[k]! - ticks.low[k]!;
  const height_mA = median(run.map(swing))!;
  // A short wake-up among the pulses stands out from them and is not part of the train.
  const busy = run.filter((k) => swing(k) <= TRAIN_HEIGHTS * height_mA);
  if (busy.length < PULSES_MIN) return null;
  const firstTick = busy[0]!;
  const last = busy.at(-1)!;
  const period_ticks = Math.max(1, upperDecile(busy.slice(1).map((k, i) => k - busy[i]!)));
  const pulses = evenly(busy, TICKS_LOOKED_AT).map((k) => pulseIn(highs, ticks, k));
  if (pulses.reduce((sum, p) => sum + p.starts.length, 0) < PULSES_MIN) return null;
  return {
    firstTick,
    endTick: Math.min(ticks.count, last + period_ticks),
    from: pulses[0]!.from,
    to: pulses.at(-1)!.to,
    busy,
    period_ticks,
    pulse_samples: upperDecile(pulses.map((p) => p.longest)),
    height_mA,
  };
}

/**
 * Extends trains over the pause between one and the next that is alike: what lies between them, such
 * as a wake-up, does not end the blinking.
 */
function bridgeRests(trains: Train[]): Train[] {
  const out = trains.map((t) => ({ ...t }));
  for (let i = 1; i < out.length; i++) {
    const [a, b] = [out[i - 1]!, out[i]!];
    if (!sameHeight(a.height_mA, b.height_mA)) continue;
    const reach = Math.max(a.period_ticks, b.period_ticks) + 1;
    a.endTick = Math.max(a.endTick, Math.min(b.firstTick, a.endTick + reach));
    b.firstTick = Math.max(a.endTick, b.firstTick - reach);
  }
  return out;
}

/**
 * Trains of pulses that show in the ticks, in order of time; none where a tick is a single sample.
 * O(ticks log ticks), and the samples of some ticks.
 *
 * @param means mean current of each sample, mA
 * @param highs highest current of each sample, mA; the same array for points
 * @param leastRise_mA least height of a pulse over the noise
 * @param hold_s shortest hold of a level, which bounds the period of a train
 * @param code_mA smallest change that the samples show
 */
export function trainsInTicks(
  means: Samples,
  highs: Samples,
  ticks: Ticks,
  leastRise_mA: number,
  hold_s: number,
  code_mA: number,
): Train[] {
  if (ticks.size < 2) return [];
  const search = (share: number) => searchTicks(means, highs, ticks, share * leastRise_mA, hold_s, code_mA);
  const seen = search(MEMBER_SHARE);
  const filled = (trains: Train[]) => trains.reduce((sum, { firstTick, endTick }) => sum + endTick - firstTick, 0);
  if (seen.length === 0 || filled(seen) >= SEEN_THROUGHOUT * (seen.at(-1)!.endTick - seen[0]!.firstTick)) return seen;
  const weaker = search(WEAK_SHARE).filter((train) => seen.some((one) => sameHeight(one.height_mA, train.height_mA)));
  return filled(weaker) > filled(seen) ? weaker : seen;
}

/** @param member_mA least height of a pulse over the noise */
function searchTicks(
  means: Samples,
  highs: Samples,
  ticks: Ticks,
  member_mA: number,
  hold_s: number,
  code_mA: number,
): Train[] {
  const trains: Train[] = [];
  const noise_mA = Math.min(quietSwing(ticks), noiseSwing(means, highs, 0, means.length, SAMPLES_LOOKED_AT));
  // A pulse that fills half of its tick stands no more than half of its height over the mean, but all of it over
  // the lowest current, which noise lowers as far as it lifts the highest.
  const standsOut = (k: number, swing_mA: number) => {
    // Noise of less than a code moves samples by a whole one all the same.
    const noise = Math.max(swing_mA, code_mA);
    return (
      ticks.high[k]! - ticks.mean[k]! >= noise + member_mA || ticks.high[k]! - ticks.low[k]! >= 2 * noise + member_mA
    );
  };
  const spacing_max = longestPeriod(hold_s) / ticks.tick_s;
  const known = new Float64Array(Math.ceil(ticks.count / TICKS_ALIKE));
  let run: number[] = [];
  const finish = () => {
    const train = isTrain(run, spacing_max) ? trainOf(run, highs, ticks) : null;
    if (train !== null) trains.push(train);
    run = [];
  };
  for (let k = 0; k < ticks.count; k++) {
    if (!standsOut(k, noise_mA) || !returns(ticks, k)) continue;
    if (!standsOut(k, swingAround(means, highs, ticks, k, known))) continue;
    const last = run.at(-1);
    if (last !== undefined) {
      const swing = Math.min(ticks.high[last]! - ticks.low[last]!, ticks.high[k]! - ticks.low[k]!);
      if (k - last > spacing_max || Math.abs(ticks.low[k]! - ticks.low[last]!) > SAME_BOTTOM * swing) finish();
    }
    run.push(k);
  }
  finish();
  return bridgeRests(trains);
}
