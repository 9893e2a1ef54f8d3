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
}

export interface PlacedLabel {
  id: string;
  box: Box;
  /** From the anchor to the label, null where the label stands at its anchor. */
  leader: { from: Point; to: Point } | null;
}

export interface Placement {
  placed: PlacedLabel[];
  /** Ids of the labels that found no place. */
  left: string[];
}

/** Free space around every label. */
const APART_PX = 3;
/** From a label to its anchor, at least. */
const BESIDE_PX = 8;
/** Farther than this from its anchor a label gets a leader line. */
const LEADER_FROM_PX = 14;
/** How many labels are tried at all; a plot with more says nothing. */
const TRIED_MAX = 80;
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
  const ranked = [...requests].sort((a, b) => b.priority - a.priority || (a.id < b.id ? -1 : 1));
  const occupied = [...taken];
  const leaders: { from: Point; to: Point }[] = [];
  const placement: Placement = { placed: [], left: ranked.slice(TRIED_MAX).map((request) => request.id) };
  for (const request of ranked.slice(0, TRIED_MAX)) {
    const best = bestPlace(request, bounds, cover, occupied, leaders);
    if (best === null) {
      placement.left.push(request.id);
      continue;
    }
    occupied.push(best.box);
    if (best.leader !== null) leaders.push(best.leader);
    placement.placed.push(best);
  }
  return placement;
}

function bestPlace(
  request: LabelRequest,
  bounds: Box,
  cover: (box: Box) => number,
  occupied: Box[],
  leaders: { from: Point; to: Point }[],
): PlacedLabel | null {
  let best: PlacedLabel | null = null;
  let bestCost = Infinity;
  for (const { x, y } of candidates(request, bounds)) {
    const box: Box = { x, y, width: request.width, height: request.height };
    if (!inside(box, bounds)) continue;
    const far = distance(box, request.anchor);
    // Cheaper than asking for overlaps: what is farther than the best so far cannot win.
    if (far >= bestCost) continue;
    if (occupied.some((other) => overlaps(box, other, APART_PX))) continue;
    const leader = request.kind === 'point' && far > LEADER_FROM_PX ? leaderTo(box, request.anchor) : null;
    if (leader !== null && occupied.some((other) => crossesBox(leader, other))) continue;
    if (leaders.some((other) => crossesBox(other, box))) continue;
    const crossed = leader === null ? 0 : leaders.filter((other) => crosses(leader, other)).length;
    const hides = request.kind === 'point' && far === 0 ? 50 : 0;
    const cost = far + hides + 120 * cover(box) + 60 * crossed + (leader === null ? 0 : 6);
    if (cost < bestCost) {
      bestCost = cost;
      best = { id: request.id, box, leader };
    }
  }
  return best;
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
    for (let rise = -RISES_MAX; rise <= RISES_MAX; rise++) points.push({ x, y: anchor.y - height / 2 + rise * RISE_PX });
  }
  return points;
}

export function inside(box: Box, bounds: Box): boolean {
  return (
    box.x >= bounds.x && box.y >= bounds.y &&
    box.x + box.width <= bounds.x + bounds.width && box.y + box.height <= bounds.y + bounds.height
  );
}

export function overlaps(a: Box, b: Box, apart_px = 0): boolean {
  return (
    a.x < b.x + b.width + apart_px && b.x < a.x + a.width + apart_px &&
    a.y < b.y + b.height + apart_px && b.y < a.y + a.height + apart_px
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
function leaderTo(box: Box, anchor: Point): { from: Point; to: Point } {
  const to = nearestPoint(box, anchor);
  if (to.x !== anchor.x) to.y = box.y + box.height / 2;
  return { from: anchor, to };
}

type Line = { from: Point; to: Point };

function crossesBox(line: Line, box: Box): boolean {
  const { x, y, width, height } = box;
  const corners: Point[] = [{ x, y }, { x: x + width, y }, { x: x + width, y: y + height }, { x, y: y + height }];
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
