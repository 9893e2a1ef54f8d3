// Optimal partitioning by functional pruning: finds exactly the segmentation that minimises
//   sum over segments of min over mu of sum of loss(y - mu)  +  penalty x changes
// for loss(r) = min(r^2, cap^2). An infinite cap is squared error (FPOP: Maidstone, Hocking, Rigaill
// & Fearnhead, Statistics and Computing 2017), a finite one the biweight loss (Fearnhead & Rigaill,
// JASA 2019). The best cost of the data so far, as a function of the last segment's mean mu, is kept
// as a list of quadratics in order of mu.

/** The best segmentation of a series, and what it costs. */
export interface Partition {
  /** First sample of each segment but the first, ascending. */
  changes: number[];
  /** Loss plus penalty x changes. */
  objective: number;
}

/**
 * The cost function in pieces: on [low, next low) it is a mu^2 - 2 b mu + c, with its last change at
 * `since`.
 */
class CostPieces {
  low: Float64Array;
  a: Float64Array;
  b: Float64Array;
  c: Float64Array;
  since: Int32Array;
  count = 0;

  constructor(size: number) {
    this.low = new Float64Array(size);
    this.a = new Float64Array(size);
    this.b = new Float64Array(size);
    this.c = new Float64Array(size);
    this.since = new Int32Array(size);
  }

  push(low: number, a: number, b: number, c: number, since: number): void {
    const k = this.count;
    if (k > 0 && this.since[k - 1] === since && this.a[k - 1] === a && this.b[k - 1] === b && this.c[k - 1] === c)
      return;
    if (k === this.low.length) this.grow();
    this.low[k] = low;
    this.a[k] = a;
    this.b[k] = b;
    this.c[k] = c;
    this.since[k] = since;
    this.count = k + 1;
  }

  private grow(): void {
    const size = this.low.length * 2;
    const wider = (from: Float64Array) => {
      const to = new Float64Array(size);
      to.set(from);
      return to;
    };
    this.low = wider(this.low);
    this.a = wider(this.a);
    this.b = wider(this.b);
    this.c = wider(this.c);
    const since = new Int32Array(size);
    since.set(this.since);
    this.since = since;
  }
}

/** Makes `to` the smaller of `from` and the constant `ceiling`, which starts a new segment at `since`. */
function minimumWith(from: CostPieces, to: CostPieces, top: number, ceiling: number, since: number): void {
  to.count = 0;
  for (let k = 0; k < from.count; k++) {
    const low = from.low[k]!;
    const high = k + 1 < from.count ? from.low[k + 1]! : top;
    const a = from.a[k]!;
    const b = from.b[k]!;
    const c = from.c[k]!;
    let keepFrom = low;
    let keepTo = high;
    if (a > 0) {
      const centre = b / a;
      const room = (ceiling - c) / a + centre * centre;
      const reach = room > 0 ? Math.sqrt(room) : -1;
      keepFrom = reach < 0 ? high : Math.max(low, centre - reach);
      keepTo = reach < 0 ? high : Math.min(high, centre + reach);
    } else if (c > ceiling) keepFrom = keepTo = high;
    if (keepFrom >= keepTo) {
      to.push(low, 0, 0, ceiling, since);
      continue;
    }
    if (keepFrom > low) to.push(low, 0, 0, ceiling, since);
    to.push(keepFrom, a, b, c, from.since[k]!);
    if (keepTo < high) to.push(keepTo, 0, 0, ceiling, since);
  }
}

/** Makes `to` the sum of `from` and the loss of sample y, which is flat farther than `cap` from it. */
function addCapped(from: CostPieces, to: CostPieces, top: number, y: number, cap: number): void {
  to.count = 0;
  const near = y - cap;
  const far = y + cap;
  const flat = cap * cap;
  for (let k = 0; k < from.count; k++) {
    const low = from.low[k]!;
    const high = k + 1 < from.count ? from.low[k + 1]! : top;
    const a = from.a[k]!;
    const b = from.b[k]!;
    const c = from.c[k]!;
    const since = from.since[k]!;
    if (low < near) to.push(low, a, b, c + flat, since);
    if (high > near && low < far) to.push(Math.max(low, near), a + 1, b + y, c + y * y, since);
    if (high > far) to.push(Math.max(low, far), a, b, c + flat, since);
  }
}

/** Adds the squared error of sample y, in place. */
function addSquared(pieces: CostPieces, y: number): void {
  const { a, b, c, count } = pieces;
  const square = y * y;
  for (let k = 0; k < count; k++) {
    a[k]! += 1;
    b[k]! += y;
    c[k]! += square;
  }
}

/** Writes to `found` the smallest value of the cost function and the last change that gives it. */
function smallest(pieces: CostPieces, top: number, found: { value: number; since: number }): void {
  found.value = Infinity;
  for (let k = 0; k < pieces.count; k++) {
    const low = pieces.low[k]!;
    const high = k + 1 < pieces.count ? pieces.low[k + 1]! : top;
    const a = pieces.a[k]!;
    const b = pieces.b[k]!;
    const mu = a > 0 ? Math.min(high, Math.max(low, b / a)) : low;
    const value = (a * mu - 2 * b) * mu + pieces.c[k]!;
    if (value < found.value) {
      found.value = value;
      found.since = pieces.since[k]!;
    }
  }
}

/**
 * The exact best segmentation of `y`; no changes for an empty or constant series. Time O(n x pieces
 * of the cost function), in practice n log n; memory O(n + pieces). Sources: Maidstone et al. 2017
 * for an infinite cap, Fearnhead & Rigaill 2019 for a finite one.
 *
 * @param y finite values
 * @param penalty cost of one change, in the square of their unit
 * @param cap bounds the loss of one sample at cap^2, in their unit
 */
export function partition(y: Float64Array, penalty: number, cap = Infinity): Partition {
  const n = y.length;
  if (n === 0) return { changes: [], objective: 0 };
  let bottom = Infinity;
  let top = -Infinity;
  for (const value of y) {
    if (value < bottom) bottom = value;
    if (value > top) top = value;
  }
  if (bottom === top) return { changes: [], objective: 0 };
  // Values are taken about their middle, so that squares of large offsets do not cost precision.
  const middle = (bottom + top) / 2;
  bottom -= middle;
  top -= middle;
  const lastChange = new Int32Array(n);
  const found = { value: 0, since: 0 };
  let now = new CostPieces(64);
  let next = new CostPieces(64);
  now.push(bottom, 0, 0, 0, 0);
  for (let i = 0; i < n; i++) {
    if (i > 0) {
      minimumWith(now, next, top, found.value + penalty, i);
      [now, next] = [next, now];
    }
    if (cap === Infinity) addSquared(now, y[i]! - middle);
    else {
      addCapped(now, next, top, y[i]! - middle, cap);
      [now, next] = [next, now];
    }
    smallest(now, top, found);
    lastChange[i] = found.since;
  }
  const changes: number[] = [];
  for (let at = lastChange[n - 1]!; at > 0; at = lastChange[at - 1]!) changes.push(at);
  return { changes: changes.reverse(), objective: found.value };
}
