// Device time to host time, from when the lines arrived. A line can be late, never
// early: so the truth runs along the lower edge of (device time, arrival - device
// time). Per stretch of two minutes the lower convex hull of those points is kept,
// and its edge over the middle is the straight line under all points that lies
// closest to them (Moon, Skelly, Towsley, "Estimation and removal of clock skew
// from network delay measurements", INFOCOM 1999; from memory). Each stretch gives
// one knot, so that a resonator that wanders with the temperature is followed.

import type { ClockKnot } from '../contract/capture.ts';

/** Length of a stretch. 50 ppm of wander bend 6 ms in it; 2400 arrivals leave a few that were hardly late. */
const STRETCH_US = 120e6;

/** A shorter stretch tells offset, but no rate. */
const SPAN_LEAST_US = 30e6;

/** Fewer arrivals tell too little of the lower edge. */
const ARRIVALS_LEAST = 100;

/** Arrivals apart by more begin a new stretch. */
const PAUSE_US = 10e6;

/** Ceramic resonators are up to 0.5 % off; twice that is no resonator but a fault of the host's clock. */
const RATE_ERROR_MAX = 0.01;

/**
 * After a resume the earliest arrival of this time tells how far the host's clock is off: the very first comes in the
 * bustle of the start.
 */
const ANCHORING_US = 10e6;

/** How late the earliest arrivals of a stretch may be without the host's clock being suspected. */
const LATE_MAX_US = 0.5e6;

interface Late {
  t_us: number;
  /** Arrival less device time: offset plus delay. */
  late_us: number;
}

/** Aligns one run (one boot) of a board. All times in microseconds; `axis` is the host's side. */
export class ClockFit {
  private readonly settled: ClockKnot[];
  private hull: Late[] = [];
  private arrivals = 0;
  private first: Late | null = null;
  private last_t_us = -Infinity;
  /** Device time at which anchoring began; NaN before the first arrival, null where none is needed. */
  private anchoring_us: number | null;

  /**
   * Microseconds that the host's clock lost against the board (a suspended host's clock
   * stands still), to be added to its readings; negative where the board's time stood still.
   */
  shift_us: number;

  /**
   * @param rateFixed the device clock is taken as it is: emulated boards at another
   *   speed than 1, whose time no resonator makes
   * @param options.knots of the same run as an earlier recording knew them
   * @param options.hostSure the host's clock went on from then to now. Otherwise the first
   *   arrivals are put where the knots say, and `shift_us` tells how far that was from the host's clock
   */
  constructor(
    private readonly rateFixed: boolean,
    options: { knots?: readonly ClockKnot[]; shift_us?: number; hostSure?: boolean } = {},
  ) {
    this.settled = [...(options.knots ?? [])];
    this.anchoring_us = this.settled.length > 0 && options.hostSure !== true ? NaN : null;
    this.shift_us = options.shift_us ?? 0;
  }

  /** Takes a reading's device time and its arrival. `t_us` must ascend. */
  add(t_us: number, arrival_us: number): void {
    if (this.anchoring_us !== null) this.anchor(t_us, arrival_us);
    const late = { t_us, late_us: arrival_us + this.shift_us - t_us };
    if (this.rateFixed) {
      if (this.first === null || late.late_us < this.first.late_us) this.first = late;
      return;
    }
    const began = this.hull[0]?.t_us ?? t_us;
    if (t_us - began > STRETCH_US || t_us - this.last_t_us > PAUSE_US) this.closeStretch();
    this.last_t_us = t_us;
    this.arrivals++;
    if (this.settled.length === 0 && (this.first === null || late.late_us < this.first.late_us)) this.first = late;
    pushHull(this.hull, late);
  }

  /** Lines can be late, never early: the largest shift is the truest. */
  private anchor(t_us: number, arrival_us: number): void {
    const shift_us = extrapolated(this.settled, t_us) - arrival_us;
    const begins = Number.isNaN(this.anchoring_us);
    if (begins) this.anchoring_us = t_us;
    if (begins || shift_us > this.shift_us) {
      if (!begins) for (const point of this.hull) point.late_us += shift_us - this.shift_us;
      this.shift_us = shift_us;
    }
    // An emulated board's time may run behind its clock for long: it is put where it was, once.
    if (this.rateFixed || t_us - this.anchoring_us! > ANCHORING_US) this.anchoring_us = null;
  }

  private closeStretch(): void {
    const knot = this.stretchKnot();
    this.hull = [];
    this.arrivals = 0;
    if (knot === null) return;
    const before = this.settled[this.settled.length - 1];
    if (before === undefined) {
      this.settled.push(knot);
      return;
    }
    const ran_us = knot.axis_us - extrapolated(this.settled, knot.t_us);
    if (Math.abs(ran_us) > RATE_ERROR_MAX * (knot.t_us - before.t_us) + LATE_MAX_US) {
      // The host's clock stood or jumped: the board's time goes on where it was.
      this.shift_us -= ran_us;
      knot.axis_us -= ran_us;
    }
    if (believable(before, knot)) this.settled.push(knot);
  }

  /** The knot of the stretch under way, null where it is too short or too scarce to tell. */
  private stretchKnot(): ClockKnot | null {
    const edge = this.stretchEdge();
    if (edge === null) return null;
    const t_us = (this.hull[0]!.t_us + this.hull[this.hull.length - 1]!.t_us) / 2;
    return { t_us: Math.round(t_us), axis_us: onEdge(edge, Math.round(t_us)) };
  }

  /** The hull's edge over the middle of the stretch. */
  private stretchEdge(): [Late, Late] | null {
    const { hull } = this;
    if (this.arrivals < ARRIVALS_LEAST) return null;
    const from = hull[0]!.t_us,
      to = hull[hull.length - 1]!.t_us;
    if (to - from < SPAN_LEAST_US) return null;
    const after = hull.findIndex((point) => point.t_us > (from + to) / 2);
    const edge: [Late, Late] = [hull[after - 1]!, hull[after]!];
    const rate = (edge[1].late_us - edge[0].late_us) / (edge[1].t_us - edge[0].t_us);
    return Math.abs(rate) <= RATE_ERROR_MAX ? edge : null;
  }

  /**
   * The clock as far as it is known: ascending knots, one at least once anything
   * arrived. A single one means device time at its own rate from there.
   */
  knots(): ClockKnot[] {
    const known = [...this.settled];
    const last = known[known.length - 1];
    if (last !== undefined) {
      const knot = this.stretchKnot();
      // Half a stretch apart: closer ones would tell the delay's chance rather than the rate.
      if (knot !== null && knot.t_us - last.t_us > STRETCH_US / 2 && believable(last, knot)) known.push(knot);
      return known;
    }
    const edge = this.stretchEdge();
    if (edge !== null) {
      const ends = [this.hull[0]!.t_us, this.hull[this.hull.length - 1]!.t_us];
      return ends.map((t_us) => ({ t_us, axis_us: onEdge(edge, t_us) }));
    }
    return this.first === null ? [] : [{ t_us: this.first.t_us, axis_us: this.first.t_us + this.first.late_us }];
  }

  /** Axis time of the newest readings, as far as the clock is known. */
  at(t_us: number): number {
    const knots = this.knots();
    return knots.length === 0 ? t_us : extrapolated(knots, t_us);
  }
}

/** Adds a point at the right end of a lower convex hull. */
function pushHull(hull: Late[], point: Late): void {
  while (hull.length >= 2) {
    const a = hull[hull.length - 2]!,
      b = hull[hull.length - 1]!;
    const turn = (b.t_us - a.t_us) * (point.late_us - a.late_us) - (b.late_us - a.late_us) * (point.t_us - a.t_us);
    if (turn > 0) break;
    hull.pop();
  }
  hull.push(point);
}

function onEdge([a, b]: [Late, Late], t_us: number): number {
  return t_us + a.late_us + ((b.late_us - a.late_us) * (t_us - a.t_us)) / (b.t_us - a.t_us);
}

function believable(a: ClockKnot, b: ClockKnot): boolean {
  if (b.t_us <= a.t_us) return false;
  return Math.abs((b.axis_us - a.axis_us) / (b.t_us - a.t_us) - 1) <= RATE_ERROR_MAX;
}

/** Axis time behind the last knot, going on at the rate of the last two. */
function extrapolated(knots: readonly ClockKnot[], t_us: number): number {
  const b = knots[knots.length - 1]!;
  const a = knots[knots.length - 2];
  const rate = a === undefined ? 1 : (b.axis_us - a.axis_us) / (b.t_us - a.t_us);
  return b.axis_us + (t_us - b.t_us) * rate;
}
