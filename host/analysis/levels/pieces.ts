// The trace as pieces of about constant current: the segments of ticks, with their edges placed on
// the sample. Wake-ups, dips, levels and steps are found among these pieces.

import type { Samples } from '../../contract/capture.ts';
import { steadyTicksBeside, REACH_TICKS } from './local-fit.ts';
import type { TickSpan } from './noise.ts';
import { edgeBetween, strongestPulse } from './edges.ts';
import type { Stretch } from './edges.ts';
import type { Segmentation } from './segments.ts';
import type { Ticks } from '../ticks/ticks.ts';
import type { Train } from './trains.ts';

/** Segments of at most this many ticks may hold a pulse that fills its ticks only in part. */
const SHORT_TICKS = 3;

/**
 * Height of a pulse that stands clear of the noise, in sigmas of one sample; it is cut off at half of
 * that.
 */
const CLEAR_SIGMAS = 8;

/**
 * Least height over the one side as a share of that over the other; what stands out on one side alone
 * is an edge.
 */
const STANDS_OUT = 0.1;
/** Multiple of the height of a train's pulses above which something else stands out. */
const OVER_TRAIN = 1.25;

/** A run of samples from..to-1 of about constant current. */
export interface Piece {
  from: number;
  to: number;
  mean_mA: number;
  /** Current near its start and near its end; they differ where it drifts. */
  start_mA: number;
  end_mA: number;
  /** Noise of one tick in it, mA, and how many ticks those two currents count as means of. */
  noise_mA: number;
  ticks: number;
  /** True for a pulse shorter than a tick; then start and end current are its extreme. */
  pulse: boolean;
  /** Ticks that `start_mA` and `end_mA` are means of. */
  startOver: TickSpan;
  endOver: TickSpan;
}

/** Mean of samples from..to-1, without the outermost two where there are more than four. */
function meanOf(samples: Samples, from: number, to: number): number {
  const inset = to - from > 4 ? 1 : 0;
  let sum = 0;
  for (let i = from + inset; i < to - inset; i++) sum += samples[i]!;
  return sum / (to - from - 2 * inset);
}

/** The currents around a short segment, mA. */
interface Sides {
  left_mA: number;
  own_mA: number;
  right_mA: number;
  /**
   * Height at which a pulse is cut off at most, so that it lasts as long as it is over half of this: an
   * inrush may be many times as high as what follows it.
   */
  clear_mA: number;
  /** Height of a train's pulses around it, 0 where there is none. */
  train_mA: number;
}

/** Sum of the samples of a stretch, each less the base. */
function areaOf(samples: Samples, { from, to }: Stretch, base_mA: number): number {
  let sum = 0;
  for (let i = from; i < to; i++) sum += samples[i]! - base_mA;
  return sum;
}

/**
 * The samples of from..to-1 that make up a short segment, null where it does not stand out from both
 * sides. Among the pulses of a train, it is the stretch that stands over the pulses, where that accounts
 * for the segment's mean better than the longest stretch does.
 */
function shortPulse(samples: Samples, from: number, to: number, wanted_mA: number, sides: Sides): Stretch | null {
  const { left_mA, own_mA, right_mA, clear_mA, train_mA } = sides;
  const up = own_mA > left_mA && own_mA > right_mA;
  const down = own_mA < left_mA && own_mA < right_mA;
  if (!up && !down) return null;
  const [less, more] = [Math.abs(own_mA - left_mA), Math.abs(own_mA - right_mA)].sort((a, b) => a - b) as [
    number,
    number,
  ];
  if (less < STANDS_OUT * more) return null;
  const base_mA = up ? Math.max(left_mA, right_mA) : Math.min(left_mA, right_mA);
  const height = Math.min(Math.abs(own_mA - base_mA), clear_mA);
  const plain = strongestPulse(samples, from, to, base_mA, base_mA + (up ? height : -height));
  if (!up || train_mA === 0) return plain;
  const top_mA = base_mA + OVER_TRAIN * train_mA;
  const over = strongestPulse(samples, from, to, top_mA, top_mA + clear_mA);
  if (plain === null || over === null) return plain ?? over;
  const miss = (stretch: Stretch) => Math.abs(Math.log(Math.max(areaOf(samples, stretch, base_mA), 1e-9) / wanted_mA));
  return miss(over) < miss(plain) ? over : plain;
}

/**
 * The sample of an edge at which a train begins or ends: that of its first or last pulse, since nothing
 * shows between pulses. Null for other edges.
 */
function trainEdge(tick: number, jump_mA: number, trains: Train[], lift: Float64Array): number | null {
  for (const t of trains) {
    const inside_mA = lift[Math.min(t.firstTick + t.period_ticks, t.endTick - 1)]!;
    const isOwn = (change_mA: number) => Math.abs(jump_mA - change_mA) < 0.5 * inside_mA;
    if (Math.abs(tick - t.firstTick) <= 1 && isOwn(inside_mA)) return t.from;
    if (Math.abs(tick - t.endTick) <= t.period_ticks && isOwn(-inside_mA)) return t.to;
  }
  return null;
}

/**
 * Places the edges of short segments on the sample; first of those beside long segments, since what
 * lies between two pulses follows from theirs.
 */
function placeShort(
  samples: Samples,
  ticks: Ticks,
  seg: Segmentation,
  means: number[],
  trains: Train[],
  rise_mA: number,
  edges: Int32Array,
): void {
  const { starts, fit } = seg;
  const count = starts.length - 1;
  const isShort = (j: number) => starts[j + 1]! - starts[j]! <= SHORT_TICKS;
  const short: { j: number; between: boolean }[] = [];
  for (let j = 1; j + 1 < count; j++) if (isShort(j)) short.push({ j, between: isShort(j - 1) && isShort(j + 1) });
  const placed = new Uint8Array(count + 1);
  let nearest = 0;
  for (const { j } of [...short.filter((s) => !s.between), ...short.filter((s) => s.between)]) {
    if (placed[j] === 1 && placed[j + 1] === 1) continue;
    const [first, end] = [starts[j]!, starts[j + 1]!];
    const noise_mA = Math.sqrt(fit.variance(starts[j - 1]!, first) * ticks.size);
    if (trains[nearest] !== undefined && trains[nearest]!.firstTick > first) nearest = 0;
    while (nearest < trains.length && trains[nearest]!.endTick <= first) nearest++;
    const train = trains[nearest];
    const train_mA = train !== undefined && train.firstTick <= end ? train.height_mA : 0;
    const sides = {
      left_mA: means[j - 1]!,
      own_mA: means[j]!,
      right_mA: means[j + 1]!,
      clear_mA: Math.max(rise_mA, CLEAR_SIGMAS * noise_mA),
      train_mA,
    };
    const from = placed[j] === 1 ? edges[j]! : ticks.start[Math.max(0, first - 1)]!;
    const to = placed[j + 1] === 1 ? edges[j + 1]! : ticks.start[Math.min(ticks.count, end + 1)]!;
    const wanted = (means[j]! - Math.max(means[j - 1]!, means[j + 1]!)) * (ticks.start[end]! - ticks.start[first]!);
    const pulse = shortPulse(samples, from, to, wanted, sides);
    if (pulse === null) continue;
    edges[j] = pulse.from;
    edges[j + 1] = pulse.to;
    placed[j] = placed[j + 1] = 1;
  }
}

/** Sample at which each segment starts, then the number of samples. */
function sampleEdges(
  samples: Samples,
  ticks: Ticks,
  seg: Segmentation,
  means: number[],
  trains: Train[],
  lift: Float64Array,
  rise_mA: number,
): Int32Array {
  const { starts } = seg;
  const count = starts.length - 1;
  const edges = new Int32Array(count + 1);
  for (let j = 1; j < count; j++) {
    const [a, at, b] = [starts[j - 1]!, starts[j]!, starts[j + 1]!];
    const ofTrain = trainEdge(at, means[j]! - means[j - 1]!, trains, lift);
    if (ofTrain !== null) {
      edges[j] = ofTrain;
      continue;
    }
    const from = ticks.start[Math.max(at - 2, at - ((at - a) >> 1) - 1, a)]!;
    const to = ticks.start[Math.min(at + 2, at + ((b - at) >> 1) + 1, b)]!;
    edges[j] = edgeBetween(
      samples,
      from,
      to,
      means[j - 1]! - lift[Math.max(0, at - 2)]!,
      means[j]! - lift[Math.min(at + 1, ticks.count - 1)]!,
    );
  }
  edges[count] = ticks.start[ticks.count]!;
  placeShort(samples, ticks, seg, means, trains, rise_mA, edges);
  for (let j = 1; j <= count; j++) edges[j] = Math.max(edges[j]!, edges[j - 1]!);
  return edges;
}

/**
 * The segments as pieces of samples, in order of time; segments left without a sample are dropped.
 * O(segments), and the samples of a few ticks beside each edge.
 *
 * @param trains pulses that are part of their level
 * @param lift what the spread pulses of trains add to each tick mean, mA
 * @param rise_mA smallest rise that counts as a wake-up
 */
export function piecesOf(
  samples: Samples,
  ticks: Ticks,
  seg: Segmentation,
  trains: Train[],
  lift: Float64Array,
  rise_mA: number,
): Piece[] {
  const { starts, fit } = seg;
  const count = starts.length - 1;
  const inner = (j: number) => {
    const inset = starts[j + 1]! - starts[j]! > 2 ? 1 : 0;
    return fit.mean(starts[j]! + inset, starts[j + 1]! - inset);
  };
  const means = Array.from({ length: count }, (_, j) => inner(j));
  const overs = means.map((_, j): [TickSpan, TickSpan] => {
    const whole: [number, number] = [starts[j]!, starts[j + 1]!];
    return whole[1] - whole[0] > SHORT_TICKS
      ? [steadyTicksBeside(fit, ...whole, false), steadyTicksBeside(fit, ...whole, true)]
      : [whole, whole];
  });
  const edges = sampleEdges(samples, ticks, seg, means, trains, lift, rise_mA);
  const pieces: Piece[] = [];
  for (let j = 0; j < count; j++) {
    const from = edges[j]!;
    const to = edges[j + 1]!;
    if (to <= from) continue;
    const length = starts[j + 1]! - starts[j]!;
    const noise_mA = Math.sqrt(fit.variance(starts[j]!, starts[j + 1]!));
    const long = length > SHORT_TICKS;
    const [startOver, endOver] = overs[j]!;
    const mean_mA = long ? means[j]! : meanOf(samples, from, to);
    pieces.push({
      from,
      to,
      mean_mA,
      start_mA: long ? fit.mean(...startOver) : mean_mA,
      end_mA: long ? fit.mean(...endOver) : mean_mA,
      noise_mA,
      ticks: Math.min(REACH_TICKS, length),
      pulse: false,
      startOver,
      endOver,
    });
  }
  return pieces;
}
