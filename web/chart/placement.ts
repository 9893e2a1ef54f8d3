// Finds a place for every label: inside the plot, over no other label, near what it
// names, off the trace where it can. What finds none is handed back to be counted.

export interface Box {
  x: number;
  y: number;
  width: number;
  height: number;
}

export interface Point {
  x: number;
  y: number;
}

export interface LabelRequest {
  id: string;
  width: number;
  height: number;
  /** What the label names. */
  anchor: Point;
  /** Placed first come the highest. */
  priority: number;
  /**
   * `point`: anywhere around the anchor, with a leader line where it is far.
   * `along`: on a horizontal line at the anchor's height, as far right as may be.
   */
  kind: 'point' | 'along';
  /** The top left corner where it stands best; it stands there wherever that is free. */
  wished?: Point;
  /** Farther than this from its anchor it is better left out. */
  reach_px?: number;
}

export interface PlacedLabel {
  id: string;
  box: Box;
  /** From the anchor to the label, null where the label stands at its anchor. */
  leader: Line | null;
}

export interface Placement {
  placed: PlacedLabel[];
  /** Ids of the labels that found no place. */
  left: string[];
}

interface Line {
  from: Point;
  to: Point;
}

/** Free space around every label. */
const APART_PX = 3;
/** From a label to its anchor, at least. */
const BESIDE_PX = 8;
/** Farther than this from its anchor a label gets a leader line. */
const LEADER_FROM_PX = 14;
/** Standing left of its anchor costs a label as much as this distance. */
const LEFT_COST = 6;
/** How many labels are tried at all; a plot with more says nothing. */
const TRIED_MAX = 80;
/** Up to this many labels are also tried in other orders. */
const REORDERED_MAX = 24;
const SIDEWAYS_PX = [0, 24, 56, 104, 168];
const RISE_PX = 9;
const RISES_MAX = 36;

/**
 * @param cover share (0 to 1) of a box that lies over the drawing; asked often
 * @param taken boxes that are occupied beforehand
 */
export function placeLabels(
  requests: LabelRequest[],
  bounds: Box,
  cover: (box: Box) => number,
  taken: Box[] = [],
): Placement {
  // Lines along the plot find few places; then wishes, which are for each other.
  const rank = (request: LabelRequest) => (request.kind === 'along' ? 2 : request.wished !== undefined ? 1 : 0);
  const ranked = [...requests].sort((a, b) => rank(b) - rank(a) || b.priority - a.priority || (a.id < b.id ? -1 : 1));
  const tried = ranked.slice(0, TRIED_MAX);
  const untried = ranked.slice(TRIED_MAX).map((request) => request.id);
  // Who comes first takes the best place; along a staircase another order may serve all better.
  const orders = [tried];
  if (tried.length <= REORDERED_MAX) {
    const first = tried.filter((request) => rank(request) > 0);
    const points = tried.filter((request) => rank(request) === 0).sort((a, b) => a.anchor.x - b.anchor.x);
    orders.push([...first, ...points], [...first, ...[...points].reverse()]);
  }
  const attempts = orders.map((order) => placeInOrder(order, bounds, cover, taken));
  const best = attempts.reduce((a, b) => (b.missed < a.missed || (b.missed === a.missed && b.cost < a.cost) ? b : a));
  return { placed: best.placed, left: [...best.left, ...untried] };
}

interface Attempt extends Placement {
  /** Sum over the placed labels: distance, cover, crossings. */
  cost: number;
  /** Weight of the labels left out. */
  missed: number;
}

function placeInOrder(order: LabelRequest[], bounds: Box, cover: (box: Box) => number, taken: Box[]): Attempt {
  const occupied = [...taken];
  const leaders: Line[] = [];
  const attempt: Attempt = { placed: [], left: [], cost: 0, missed: 0 };
  for (const request of order) {
    const best = bestPlace(request, bounds, cover, occupied, leaders);
    if (best === null) {
      attempt.left.push(request.id);
      attempt.missed += 1 + request.priority;
      continue;
    }
    occupied.push(best.label.box);
    if (best.label.leader !== null) leaders.push(best.label.leader);
    attempt.placed.push(best.label);
    attempt.cost += best.cost;
  }
  return attempt;
}

function bestPlace(
  request: LabelRequest,
  bounds: Box,
  cover: (box: Box) => number,
  occupied: Box[],
  leaders: Line[],
): { label: PlacedLabel; cost: number } | null {
  if (request.wished !== undefined) {
    const wish = wishedPlace(request, request.wished, bounds, occupied, leaders);
    if (wish !== null) return { label: wish, cost: 0 };
  }
  let best: PlacedLabel | null = null;
  let bestCost = Infinity;
  for (const { x, y } of candidates(request, bounds)) {
    const box: Box = { x, y, width: request.width, height: request.height };
    if (!inside(box, bounds)) continue;
    const far = distance(box, request.anchor);
    // Cheaper than asking for overlaps: what is farther than the best so far cannot win.
    if (far >= bestCost || far > (request.reach_px ?? Infinity)) continue;
    if (occupied.some((other) => overlaps(box, other, APART_PX))) continue;
    const covered = cover(box);
    // Over the drawing a label looks as if it named what it covers: a line says what it does name.
    const led = request.kind === 'point' && (far > LEADER_FROM_PX || (far > 0 && covered > 0));
    const leader = led ? leaderTo(box, request.anchor) : null;
    if (leader !== null && occupied.some((other) => crossesBox(leader, other))) continue;
    if (leaders.some((other) => crossesBox(other, box))) continue;
    const crossed = leader === null ? 0 : leaders.filter((other) => crosses(leader, other)).length;
    // Time runs to the right: there a label stands with what it tells of.
    const before = request.kind === 'point' && box.x + box.width <= request.anchor.x ? LEFT_COST : 0;
    const hides = request.kind === 'point' && far === 0 ? 50 : 0;
    const cost =
      far + before + hides + 120 * covered + 60 * crossed + (leader === null ? 0 : 6 + 40 * coverOfLine(leader, cover));
    if (cost < bestCost) {
      bestCost = cost;
      best = { id: request.id, box, leader };
    }
  }
  return best === null ? null : { label: best, cost: bestCost };
}

/** The wished place with its leader, null where something is in the way. */
function wishedPlace(
  request: LabelRequest,
  wished: Point,
  bounds: Box,
  occupied: Box[],
  leaders: Line[],
): PlacedLabel | null {
  const box: Box = { ...wished, width: request.width, height: request.height };
  const leader = leaderTo(box, request.anchor);
  const blocked =
    !inside(box, bounds) ||
    occupied.some((other) => overlaps(box, other, APART_PX - 0.01) || crossesBox(leader, other)) ||
    leaders.some((other) => crossesBox(other, box));
  return blocked ? null : { id: request.id, box, leader };
}

/** Share of a leader that runs over the drawing. */
function coverOfLine(line: Line, cover: (box: Box) => number): number {
  const SAMPLES = 8;
  let covered = 0;
  for (let i = 1; i <= SAMPLES; i++) {
    const share = i / (SAMPLES + 1);
    covered += cover({
      x: line.from.x + (line.to.x - line.from.x) * share,
      y: line.from.y + (line.to.y - line.from.y) * share,
      width: 1,
      height: 1,
    });
  }
  return covered / SAMPLES;
}

/** Top left corners worth trying. */
function candidates(request: LabelRequest, bounds: Box): Point[] {
  const { anchor, width, height } = request;
  const points: Point[] = [];
  if (request.kind === 'along') {
    const right = bounds.x + bounds.width - width;
    for (let x = right; x >= bounds.x; x -= Math.max(12, width / 4)) {
      points.push({ x, y: anchor.y - height - 2 }, { x, y: anchor.y + 2 });
    }
    return points;
  }
  const columns = SIDEWAYS_PX.flatMap((side) => [anchor.x + BESIDE_PX + side, anchor.x - BESIDE_PX - side - width]);
  columns.push(anchor.x - width / 2);
  // Pushed back into the plot, so that an anchor near its edge keeps a place.
  const right = bounds.x + bounds.width - width;
  const fitted = new Set(columns.map((x) => Math.min(Math.max(x, bounds.x), right)));
  for (const x of fitted) {
    for (let rise = -RISES_MAX; rise <= RISES_MAX; rise++)
      points.push({ x, y: anchor.y - height / 2 + rise * RISE_PX });
  }
  return points;
}

export function inside(box: Box, bounds: Box): boolean {
  return (
    box.x >= bounds.x &&
    box.y >= bounds.y &&
    box.x + box.width <= bounds.x + bounds.width &&
    box.y + box.height <= bounds.y + bounds.height
  );
}

export function overlaps(a: Box, b: Box, apart_px = 0): boolean {
  return (
    a.x < b.x + b.width + apart_px &&
    b.x < a.x + a.width + apart_px &&
    a.y < b.y + b.height + apart_px &&
    b.y < a.y + a.height + apart_px
  );
}

/** From the nearest point of a box. */
function distance(box: Box, point: Point): number {
  const nearest = nearestPoint(box, point);
  return Math.hypot(nearest.x - point.x, nearest.y - point.y);
}

function nearestPoint(box: Box, point: Point): Point {
  return {
    x: Math.min(Math.max(point.x, box.x), box.x + box.width),
    y: Math.min(Math.max(point.y, box.y), box.y + box.height),
  };
}

/** The leader meets a label at the middle of its height when it stands aside, else at its edge. */
function leaderTo(box: Box, anchor: Point): Line {
  const to = nearestPoint(box, anchor);
  if (to.x !== anchor.x) to.y = box.y + box.height / 2;
  return { from: anchor, to };
}

function crossesBox(line: Line, box: Box): boolean {
  const { x, y, width, height } = box;
  const corners: Point[] = [
    { x, y },
    { x: x + width, y },
    { x: x + width, y: y + height },
    { x, y: y + height },
  ];
  const within = (p: Point) => p.x > x && p.x < x + width && p.y > y && p.y < y + height;
  if (within(line.from) || within(line.to)) return true;
  return corners.some((corner, i) => crosses(line, { from: corner, to: corners[(i + 1) % 4]! }));
}

/** True where two lines cross between their ends; touching is not crossing. */
function crosses(a: Line, b: Line): boolean {
  const side = (line: Line, p: Point) =>
    Math.sign((line.to.x - line.from.x) * (p.y - line.from.y) - (line.to.y - line.from.y) * (p.x - line.from.x));
  return side(a, b.from) * side(a, b.to) < 0 && side(b, a.from) * side(b, a.to) < 0;
}
