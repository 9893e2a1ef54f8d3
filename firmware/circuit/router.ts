// Finds ways for the nets of a board with two layers: from what is joined to the nearest pad that is not, on a
// grid, by the cheapest way (Lee, 1961, with A*); a net that finds none goes first in the next try. The same
// input gives the same board.
import type { PlacedPad } from './placement.ts';

export interface Track {
  net: string;
  layer: 0 | 1;
  from: readonly [number, number];
  to: readonly [number, number];
  width: number;
}
export interface Via {
  net: string;
  x: number;
  y: number;
}
export interface Routed {
  tracks: Track[];
  vias: Via[];
  /** Nets that found no way. */
  failed: string[];
}
export interface Rules {
  width: number;
  height: number;
  /** No copper from x to x. */
  gap: { from: number; to: number };
  grid: number;
  track: number;
  clearance: number;
  via: number;
  edge: number;
}

const VIA_COST = 8;
const TURN_COST = 0.3;
/** A way aslant passes a corner nearer than its nodes are: by so much at most, on a grid of 0.25 mm. */
const ASLANT = 0.05;

type Point = readonly [number, number];

class Grid {
  readonly columns: number;
  readonly rows: number;
  /** Per node: 0 free, -1 for nobody, else the net's number plus one; tracks and vias apart, since a via is wider. */
  readonly forTrack: Int16Array;
  readonly forVia: Int16Array;
  private readonly rules: Rules;

  constructor(rules: Rules) {
    this.rules = rules;
    this.columns = Math.floor(rules.width / rules.grid) + 1;
    this.rows = Math.floor(rules.height / rules.grid) + 1;
    const size = this.columns * this.rows;
    this.forTrack = new Int16Array(2 * size);
    this.forVia = new Int16Array(size);
    for (let node = 0; node < size; node++) {
      const [x, y] = this.place(node);
      if (this.isOff(x, y, rules.track)) this.forTrack[node] = this.forTrack[node + size] = -1;
      if (this.isOff(x, y, rules.via)) this.forVia[node] = -1;
    }
  }

  private isOff(x: number, y: number, thick: number): boolean {
    const { width, height, gap, edge } = this.rules;
    const room = edge + thick / 2;
    const isInGap = x > gap.from - thick / 2 && x < gap.to + thick / 2;
    return x < room || y < room || x > width - room || y > height - room || isInGap;
  }

  place(node: number): [number, number] {
    const at = node % (this.columns * this.rows);
    return [(at % this.columns) * this.rules.grid, Math.floor(at / this.columns) * this.rules.grid];
  }
  node(layer: number, x: number, y: number): number {
    const { grid } = this.rules;
    return layer * this.columns * this.rows + Math.round(y / grid) * this.columns + Math.round(x / grid);
  }

  /** Takes what is nearer to a line of a width than the rules allow. */
  takeLine(net: number, layers: readonly number[], [x1, y1]: Point, [x2, y2]: Point, half: number): void {
    const box = [Math.min(x1, x2), Math.max(x1, x2), Math.min(y1, y2), Math.max(y1, y2)] as const;
    this.take(net, layers, box, half, (x, y) => distance(x, y, x1, y1, x2, y2) - half);
  }

  /** The same of a pad. */
  takePad(net: number, layers: readonly number[], { x, y, w, h }: PlacedPad): void {
    const box = [x - w / 2, x + w / 2, y - h / 2, y + h / 2] as const;
    this.take(net, layers, box, 0, (px, py) =>
      Math.hypot(Math.max(0, Math.abs(px - x) - w / 2), Math.max(0, Math.abs(py - y) - h / 2)),
    );
  }

  /** No via in a pad that is soldered on the front alone: it would drink the solder. */
  keepViasOff({ x, y, w, h }: PlacedPad): void {
    const { via, grid } = this.rules;
    for (let node = 0; node < this.forVia.length; node++) {
      const [px, py] = this.place(node);
      if (Math.abs(px - x) < (w + via) / 2 + grid / 2 && Math.abs(py - y) < (h + via) / 2 + grid / 2)
        this.forVia[node] = -1;
    }
  }

  // oxlint-disable-next-line max-params -- a shape, and whose it is
  private take(
    net: number,
    layers: readonly number[],
    box: readonly [number, number, number, number],
    half: number,
    awayFrom: (x: number, y: number) => number,
  ): void {
    const { clearance, track, via, grid } = this.rules;
    const size = this.columns * this.rows;
    const reach = half + clearance + via / 2 + ASLANT;
    const [left, right, top, bottom] = [box[0] - reach, box[1] + reach, box[2] - reach, box[3] + reach];
    for (let row = Math.max(0, Math.ceil(top / grid)); row <= Math.min(this.rows - 1, Math.floor(bottom / grid)); row++)
      for (
        let column = Math.max(0, Math.ceil(left / grid));
        column <= Math.min(this.columns - 1, Math.floor(right / grid));
        column++
      ) {
        const away = awayFrom(column * grid, row * grid) - clearance - ASLANT;
        const node = row * this.columns + column;
        if (away < via / 2 - 1e-6) mark(this.forVia, node, net);
        if (away < track / 2 - 1e-6) for (const layer of layers) mark(this.forTrack, node + layer * size, net);
      }
  }
}

function mark(owner: Int16Array, node: number, net: number): void {
  if (owner[node] === 0) owner[node] = net;
  else if (owner[node] !== net) owner[node] = -1;
}

/** Of a point from a line. */
function distance(x: number, y: number, x1: number, y1: number, x2: number, y2: number): number {
  const [dx, dy] = [x2 - x1, y2 - y1];
  const length2 = dx * dx + dy * dy;
  const share = length2 === 0 ? 0 : Math.max(0, Math.min(1, ((x - x1) * dx + (y - y1) * dy) / length2));
  return Math.hypot(x - x1 - share * dx, y - y1 - share * dy);
}

/** A heap of nodes by cost. */
class Queue {
  private readonly costs: number[] = [];
  private readonly nodes: number[] = [];
  get isEmpty(): boolean {
    return this.nodes.length === 0;
  }
  push(node: number, cost: number): void {
    let at = this.nodes.length;
    this.nodes.push(node);
    this.costs.push(cost);
    while (at > 0) {
      const up = (at - 1) >> 1;
      if (this.costs[up]! <= cost) break;
      this.nodes[at] = this.nodes[up]!;
      this.costs[at] = this.costs[up]!;
      at = up;
    }
    this.nodes[at] = node;
    this.costs[at] = cost;
  }
  pop(): number {
    const first = this.nodes[0]!;
    const node = this.nodes.pop()!;
    const cost = this.costs.pop()!;
    const count = this.nodes.length;
    let at = 0;
    while (count > 0) {
      let down = 2 * at + 1;
      if (down >= count) break;
      if (down + 1 < count && this.costs[down + 1]! < this.costs[down]!) down++;
      if (this.costs[down]! >= cost) break;
      this.nodes[at] = this.nodes[down]!;
      this.costs[at] = this.costs[down]!;
      at = down;
    }
    if (count > 0) {
      this.nodes[at] = node;
      this.costs[at] = cost;
    }
    return first;
  }
}

const STEPS = [
  [1, 0],
  [1, 1],
  [0, 1],
  [-1, 1],
  [-1, 0],
  [-1, -1],
  [0, -1],
  [1, -1],
] as const;

/** Steps that are left at least from a node to the box around the targets. */
function aheadOf(grid: Grid, targets: ReadonlySet<number>): (node: number) => number {
  const goals = [...targets].map((node) => grid.place(node));
  const [xs, ys] = [goals.map(([x]) => x), goals.map(([, y]) => y)];
  const [left, right, top, bottom] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const step = grid.place(1)[0];
  return (node) => {
    const [x, y] = grid.place(node);
    const dx = Math.max(left - x, 0, x - right);
    const dy = Math.max(top - y, 0, y - bottom);
    return (Math.max(dx, dy) + (Math.SQRT2 - 1) * Math.min(dx, dy)) / step;
  };
}

/** The nodes of the cheapest way from any of `sources` to any of `targets`, or null. */
function search(grid: Grid, net: number, sources: ReadonlySet<number>, targets: ReadonlySet<number>): number[] | null {
  const size = grid.columns * grid.rows;
  const spent = new Float32Array(2 * size).fill(Infinity);
  const before = new Int32Array(2 * size).fill(-1);
  const done = new Uint8Array(2 * size);
  const ahead = aheadOf(grid, targets);
  const queue = new Queue();
  for (const node of sources) {
    spent[node] = 0;
    queue.push(node, ahead(node));
  }
  const isFree = (node: number) => grid.forTrack[node] === 0 || grid.forTrack[node] === net;
  const isFreeForVia = (node: number) => {
    const at = node % size;
    return (grid.forVia[at] === 0 || grid.forVia[at] === net) && isFree(at) && isFree(at + size);
  };
  while (!queue.isEmpty) {
    const node = queue.pop();
    if (done[node] === 1) continue;
    done[node] = 1;
    if (targets.has(node)) {
      const way = [node];
      for (let at = node; before[at]! >= 0;) way.push((at = before[at]!));
      return way.toReversed();
    }
    const from = before[node]!;
    const column = (node % size) % grid.columns;
    const row = Math.floor((node % size) / grid.columns);
    for (const [dx, dy] of STEPS) {
      if (column + dx < 0 || row + dy < 0 || column + dx >= grid.columns || row + dy >= grid.rows) continue;
      const next = node + dx + dy * grid.columns;
      if (done[next] === 1 || !isFree(next)) continue;
      const isTurn = from >= 0 && from % size !== node % size && next - node !== node - from;
      const cost = spent[node]! + Math.hypot(dx, dy) + (isTurn ? TURN_COST : 0);
      if (cost < spent[next]!) {
        spent[next] = cost;
        before[next] = node;
        queue.push(next, cost + ahead(next));
      }
    }
    const other = node < size ? node + size : node - size;
    if (done[other] === 0 && isFreeForVia(node) && spent[node]! + VIA_COST < spent[other]!) {
      spent[other] = spent[node]! + VIA_COST;
      before[other] = node;
      queue.push(other, spent[other] + ahead(other));
    }
  }
  return null;
}

/** One try, nets in this order. */
function attempt(rules: Rules, pads: readonly PlacedPad[], order: readonly string[]): Routed {
  const grid = new Grid(rules);
  const size = grid.columns * grid.rows;
  const numbers = new Map(order.map((net, i) => [net, i + 1]));
  const layersOf = (pad: PlacedPad) => (pad.isThrough ? [0, 1] : [0]);
  for (const pad of pads) {
    const net = pad.net === null ? -1 : (numbers.get(pad.net) ?? -1);
    grid.takePad(net, layersOf(pad), pad);
    if (!pad.isThrough) grid.keepViasOff(pad);
  }
  const result: Routed = { tracks: [], vias: [], failed: [] };
  for (const net of order) {
    const number = numbers.get(net)!;
    const own = pads.filter((pad) => pad.net === net);
    const nodesOf = (pad: PlacedPad) => layersOf(pad).map((layer) => grid.node(layer, pad.x, pad.y));
    const joined = new Set(nodesOf(own[0]!));
    const open = new Set(own.slice(1));
    const homes = new Map(own.flatMap((pad) => nodesOf(pad).map((node) => [node, pad] as const)));
    while (open.size > 0) {
      const targets = new Set([...open].flatMap(nodesOf).filter((node) => !joined.has(node)));
      const way = targets.size === 0 ? [] : search(grid, number, joined, targets);
      if (way === null) {
        result.failed.push(net);
        break;
      }
      for (const node of way) joined.add(node);
      for (const pad of open) if (nodesOf(pad).some((node) => joined.has(node))) open.delete(pad);
      for (const pad of own)
        if (nodesOf(pad).some((node) => joined.has(node))) for (const node of nodesOf(pad)) joined.add(node);
      lay(grid, rules, result, net, number, size, way, homes);
    }
  }
  return result;
}

/** Tracks and vias of a way, ends drawn to the pads' middles; takes their room. */
// oxlint-disable-next-line max-params -- what a try has, all of it
function lay(
  grid: Grid,
  rules: Rules,
  result: Routed,
  net: string,
  number: number,
  size: number,
  way: readonly number[],
  homes: ReadonlyMap<number, PlacedPad>,
): void {
  const add = (layer: 0 | 1, from: readonly [number, number], to: readonly [number, number]) => {
    if (from[0] === to[0] && from[1] === to[1]) return;
    result.tracks.push({ net, layer, from, to, width: rules.track });
    grid.takeLine(number, [layer], from, to, rules.track / 2);
  };
  let start = 0;
  for (let i = 1; i < way.length; i++) {
    const isVia = way[i]! % size === way[i - 1]! % size;
    const isLast = i === way.length - 1;
    const isTurn = !isLast && way[i + 1]! - way[i]! !== way[i]! - way[i - 1]!;
    if (isVia) {
      const [x, y] = grid.place(way[i]!);
      result.vias.push({ net, x, y });
      grid.takeLine(number, [0, 1], [x, y], [x, y], rules.via / 2);
      start = i;
    } else if (isLast || isTurn) {
      add(way[i]! < size ? 0 : 1, grid.place(way[start]!), grid.place(way[i]!));
      start = i;
    }
  }
  for (const end of [way[0], way.at(-1)]) {
    const pad = end === undefined ? undefined : homes.get(end);
    if (pad !== undefined) add(end! < size ? 0 : 1, [pad.x, pad.y], grid.place(end!));
  }
}

/** @param tries how often the nets that found no way may go first */
export function route(rules: Rules, pads: readonly PlacedPad[], order: readonly string[], tries = 12): Routed {
  let best = attempt(rules, pads, order);
  let now = [...order];
  for (let i = 1; i < tries && best.failed.length > 0; i++) {
    const failed = best.failed;
    now = [...failed, ...now.filter((net) => !failed.includes(net))];
    const next = attempt(rules, pads, now);
    best = next.failed.length <= best.failed.length || i % 3 === 0 ? next : best;
  }
  return best;
}
