// Pulses shorter than a tick. Where a tick's highest (or lowest) current stands out from what is
// usual around it, its samples are searched; with the windows' own range, even a pulse shorter than a
// window shows. Usual is the median of (highest - mean) over 64 ticks, so that noise, polling and
// blinks do not count; how far a tick stands out is measured in the MAD of the same. O(ticks), and
// the samples of the ticks that stand out.

import type { Samples } from '../../contract/capture.ts';
import type { Piece } from './pieces.ts';
import { strongestPulse } from './edges.ts';
import { madSigma } from '../ticks/scale.ts';
import type { Scale } from '../ticks/scale.ts';
import { tickAt } from '../ticks/ticks.ts';
import type { Ticks } from '../ticks/ticks.ts';
import { isOfTrain } from './trains.ts';
import type { Train } from './trains.ts';

/** Ticks that the usual height is taken over. */
const AROUND = 64;
/**
 * How far over the usual height a pulse must stand, in spreads (sigma from the MAD) of the ticks'
 * highest currents. The highest of m normal values has a longer tail than the values: its median plus
 * 9 spreads are 7 sigma of a value for m = 5 and 6 sigma for m = 20 to 1000 (simulated, 1500 draws),
 * which chance exceeds once in 1e9 values.
 */
const CLEAR_SPREADS = 9;
/** Ticks on each side of a pulse that its level is taken from, and the fewest it may be taken from. */
const BESIDE = 60;
const BESIDE_MIN = 20;
/** Fewest ticks with pulses of a train that the usual height is taken from. */
const BUSY_MIN = 4;
/** Samples at each end of a piece that belong to its edge and hold no pulse of their own. */
const EDGE_SAMPLES = 2;

/** The samples, and the lowest and highest current within each, mA; all the same array for points. */
export interface Extremes {
  mean: Samples;
  low: Samples;
  high: Samples;
}

/** The smallest rise that counts as a wake-up: as set in the options, and the least that it may measure. */
export interface RiseSizes {
  rise_mA: number;
  leastRise_mA: number;
}

interface Usual {
  over_mA: number;
  limit_mA: number;
}

/** One direction of search: up through the highest currents, down through the lowest. */
interface Direction {
  sign: 1 | -1;
  extreme: Float64Array;
  samples: Samples;
}

/**
 * The usual height over the mean, and the limit over that. In a train the pulses are usual: only ticks
 * with one count.
 */
function usualAround(
  direction: Direction,
  ticks: Ticks,
  y: Float64Array,
  first: number,
  end: number,
  sigma_mA: number,
  busy: Uint8Array | null,
): Usual {
  const { sign, extreme } = direction;
  const held: number[] = [];
  if (busy !== null && sign > 0) for (let k = first; k < end; k++) if (busy[k] === 1) held.push(extreme[k]! - y[k]!);
  const over = held.length >= BUSY_MIN ? Float64Array.from(held) : new Float64Array(end - first);
  if (held.length < BUSY_MIN) for (let k = first; k < end; k++) over[k - first] = sign * (extreme[k]! - ticks.mean[k]!);
  const spread = Math.max(madSigma(over), sigma_mA);
  over.sort();
  return { over_mA: over[over.length >> 1]!, limit_mA: CLEAR_SPREADS * spread };
}

/** Median of values from..to-1. */
function middleOf(values: Float64Array, from: number, to: number): number {
  const part = values.slice(from, to).sort();
  return part[part.length >> 1]!;
}

/** Where pulses are searched for, and what they have to reach. */
interface Search {
  direction: Direction;
  /** Samples that a pulse may lie between; what touches the edge of its piece is a part of that edge. */
  edges: { from: number; to: number };
  floor_mA: number;
  top_mA: number;
  least_mA: number;
  blank: Piece;
}

/** Adds to `found` the strongest pulse of samples since..until-1 and those on both sides of it, ascending. */
function collectPulses(search: Search, since: number, until: number, found: Piece[]): void {
  if (since >= until) return;
  const {
    direction: { samples, sign },
    edges,
    floor_mA,
  } = search;
  const pulse = strongestPulse(samples, since, until, floor_mA, search.top_mA);
  if (pulse === null || pulse.from <= edges.from || pulse.to >= edges.to) return;
  let top = 0;
  for (let i = pulse.from; i < pulse.to; i++) top = Math.max(top, sign * (samples[i]! - floor_mA));
  if (top < search.least_mA) return;
  collectPulses(search, since, pulse.from, found);
  found.push({ ...search.blank, ...pulse });
  collectPulses(search, pulse.to, until, found);
}

/** Pulses of one direction inside a piece, ascending. */
function pulsesIn(
  piece: Piece,
  direction: Direction,
  ticks: Ticks,
  y: Float64Array,
  { rise_mA, leastRise_mA }: RiseSizes,
  sigma_mA: number,
  busy: Uint8Array | null,
): Piece[] {
  const found: Piece[] = [];
  const { sign, extreme } = direction;
  const firstTick = tickAt(ticks, piece.from);
  const endTick = tickAt(ticks, piece.to - 1) + 1;
  const edges = { from: piece.from + EDGE_SAMPLES, to: piece.to - EDGE_SAMPLES };
  let searched = edges.from;
  for (let chunk = firstTick; chunk < endTick; chunk += AROUND) {
    const chunkEnd = Math.min(endTick, chunk + AROUND);
    let base_mA = Number.NaN;
    let usual: Usual = { over_mA: 0, limit_mA: 0 };
    for (let k = chunk; k < chunkEnd; k++) {
      if (sign * (extreme[k]! - y[k]!) < leastRise_mA * 0.5) continue;
      if (Number.isNaN(base_mA)) {
        const from = Math.max(firstTick, chunkEnd - AROUND);
        base_mA = middleOf(y, from, chunkEnd);
        usual = usualAround(direction, ticks, y, from, chunkEnd, sigma_mA, busy);
      }
      const height = sign * (extreme[k]! - base_mA) - usual.over_mA;
      const least_mA = Math.max(leastRise_mA, usual.limit_mA);
      if (height < least_mA) continue;
      const from = Math.max(searched, ticks.start[Math.max(0, k - 1)]!);
      const to = Math.min(edges.to, ticks.start[Math.min(ticks.count, k + 2)]!);
      const floor_mA = base_mA + sign * usual.over_mA;
      const top_mA = floor_mA + sign * Math.min(height, Math.max(rise_mA, usual.limit_mA));
      const blank = {
        ...piece,
        mean_mA: 0,
        start_mA: 0,
        end_mA: 0,
        ticks: 1,
        pulse: true,
        startOver: [k, k + 1],
        endOver: [k, k + 1],
      } satisfies Piece;
      collectPulses({ direction, edges, floor_mA, top_mA, least_mA, blank }, from, to, found);
      searched = Math.max(searched, found.at(-1)?.to ?? 0);
    }
  }
  return found;
}

/** The pulse with its mean, and its extreme as its start and end current. */
function withPeak(pulse: Piece, direction: Direction, samples: Samples): Piece {
  let extreme = direction.samples[pulse.from]!;
  let sum = 0;
  for (let i = pulse.from; i < pulse.to; i++) {
    const value = direction.samples[i]!;
    if (direction.sign * (value - extreme) > 0) extreme = value;
    sum += samples[i]!;
  }
  return { ...pulse, mean_mA: sum / (pulse.to - pulse.from), start_mA: extreme, end_mA: extreme };
}

/**
 * Current around a pulse, mA, from the nearest ticks of its piece that hold no pulse, so that even a
 * small charge is measured from the right level where the piece drifts.
 */
function levelBeside(pulse: Piece, piece: Piece, pulses: Piece[], ticks: Ticks, levels: Float64Array): number {
  const first = tickAt(ticks, piece.from) + 1;
  const end = tickAt(ticks, piece.to - 1);
  const at = tickAt(ticks, pulse.from);
  const from = Math.max(first, at - BESIDE);
  const to = Math.min(end, tickAt(ticks, pulse.to - 1) + 1 + BESIDE);
  let own = pulses.indexOf(pulse);
  while (own > 0 && pulses[own - 1]!.to > ticks.start[Math.min(from, ticks.count)]!) own--;
  let sum = 0;
  let count = 0;
  for (let k = from; k < to; k++) {
    while (own < pulses.length && pulses[own]!.to <= ticks.start[k]!) own++;
    if (own < pulses.length && pulses[own]!.from < ticks.start[k + 1]!) continue;
    sum += levels[k]!;
    count++;
  }
  return count < BESIDE_MIN ? piece.mean_mA : sum / count;
}

/**
 * The pieces with the pulses inside them cut out as pieces of their own, whose start and end current
 * is their peak. Pulses of trains stay in their level. O(ticks), and the samples of ticks that stand
 * out.
 *
 * @param levels tick means, trains smoothed out, mA
 * @param y the same without what the pulses of trains add, mA
 */
export function cutPulses(
  pieces: Piece[],
  ticks: Ticks,
  levels: Float64Array,
  y: Float64Array,
  extremes: Extremes,
  rises: RiseSizes,
  scale: Scale,
  trains: Train[],
): Piece[] {
  const up: Direction = { sign: 1, extreme: ticks.high, samples: extremes.high };
  const down: Direction = { sign: -1, extreme: ticks.low, samples: extremes.low };
  const out: Piece[] = [];
  const busy = trains.length === 0 ? null : new Uint8Array(ticks.count);
  for (const train of trains) for (const k of train.busy) busy![k] = 1;
  for (const piece of pieces) {
    const pulses = [up, down]
      .flatMap((direction) =>
        pulsesIn(piece, direction, ticks, y, rises, scale.sigma_mA, busy).map((p) =>
          withPeak(p, direction, extremes.mean),
        ),
      )
      .filter((p) => !isOfTrain(p.from, p.to, Math.abs(p.start_mA - piece.mean_mA), trains, ticks))
      .sort((a, b) => a.from - b.from);
    let from = piece.from;
    let { start_mA } = piece;
    for (const pulse of pulses) {
      if (pulse.from < from) continue;
      const beside_mA = levelBeside(pulse, piece, pulses, ticks, levels);
      if (pulse.from > from) out.push({ ...piece, from, to: pulse.from, start_mA, end_mA: beside_mA });
      out.push(pulse);
      from = pulse.to;
      start_mA = beside_mA;
    }
    if (from < piece.to) out.push(from === piece.from ? piece : { ...piece, from, start_mA });
  }
  return out;
}
