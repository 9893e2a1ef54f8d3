// Makes tracks as wide as their nets ask, as far as what lies beside them leaves room; one after the other, so
// that two neighbours do not take the same room.
import type { PlacedPad } from './placement.ts';
import type { Routed, Rules, Track } from './router.ts';

type Point = readonly [number, number];

function pointToLine([x, y]: Point, [x1, y1]: Point, [x2, y2]: Point): number {
  const [dx, dy] = [x2 - x1, y2 - y1];
  const length2 = dx * dx + dy * dy;
  const share = length2 === 0 ? 0 : Math.max(0, Math.min(1, ((x - x1) * dx + (y - y1) * dy) / length2));
  return Math.hypot(x - x1 - share * dx, y - y1 - share * dy);
}

/** Whether b turns left of the line from a to c, right, or neither. */
const side = (a: Point, b: Point, c: Point) => {
  const area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
  return Math.abs(area) < 1e-9 ? 0 : Math.sign(area);
};

/** Between the middles of two lines; 0 where they cross. */
export function lineToLine(a1: Point, a2: Point, b1: Point, b2: Point): number {
  if (side(a1, a2, b1) !== side(a1, a2, b2) && side(b1, b2, a1) !== side(b1, b2, a2)) return 0;
  return Math.min(pointToLine(a1, b1, b2), pointToLine(a2, b1, b2), pointToLine(b1, a1, a2), pointToLine(b2, a1, a2));
}

/** From a line to a pad's edge; 0 inside it. */
function lineToPad(from: Point, to: Point, { x, y, w, h }: PlacedPad): number {
  const isIn = ([px, py]: Point) => Math.abs(px - x) <= w / 2 && Math.abs(py - y) <= h / 2;
  if (isIn(from) || isIn(to)) return 0;
  const corners: Point[] = [
    [x - w / 2, y - h / 2],
    [x + w / 2, y - h / 2],
    [x + w / 2, y + h / 2],
    [x - w / 2, y + h / 2],
  ];
  return Math.min(...corners.map((corner, i) => lineToLine(from, to, corner, corners[(i + 1) % 4]!)));
}

/** Room on either side of a track's middle before the rules end it, mm. */
function room(track: Track, all: readonly Track[], { vias }: Routed, pads: readonly PlacedPad[], rules: Rules): number {
  const { from, to, net, layer } = track;
  let least = Infinity;
  for (const other of all)
    if (other.net !== net && other.layer === layer)
      least = Math.min(least, lineToLine(from, to, other.from, other.to) - other.width / 2 - rules.clearance);
  for (const via of vias)
    if (via.net !== net)
      least = Math.min(least, pointToLine([via.x, via.y], from, to) - rules.via / 2 - rules.clearance);
  for (const pad of pads)
    if (pad.net !== net && (pad.isThrough || layer === 0))
      least = Math.min(least, lineToPad(from, to, pad) - rules.clearance);
  for (const [x, y] of [from, to]) {
    const toEdge = Math.min(x, y, rules.width - x, rules.height - y) - rules.edge;
    least = Math.min(least, toEdge, x < rules.gap.from ? rules.gap.from - x : x - rules.gap.to);
  }
  return least;
}

/** In pieces of a millimetre at most, so that a narrow place does not make a whole way narrow. */
function pieces(track: Track): Track[] {
  const [[x1, y1], [x2, y2]] = [track.from, track.to];
  const count = Math.ceil(Math.hypot(x2 - x1, y2 - y1));
  const at = (i: number): Point => [x1 + ((x2 - x1) * i) / count, y1 + ((y2 - y1) * i) / count];
  return Array.from({ length: count }, (_, i) => ({ ...track, from: at(i), to: at(i + 1) }));
}

/** Pieces of one way and one width as one track again. */
function joined(tracks: readonly Track[]): Track[] {
  const all: Track[] = [];
  for (const track of tracks) {
    const last = all.at(-1);
    const isOne =
      last !== undefined &&
      last.net === track.net &&
      last.layer === track.layer &&
      last.width === track.width &&
      last.to[0] === track.from[0] &&
      last.to[1] === track.from[1] &&
      Math.abs(side(last.from, track.to, track.from)) === 0;
    if (isOne) all[all.length - 1] = { ...last, to: track.to };
    else all.push(track);
  }
  return all;
}

/** The tracks of `routed`, each up to `wanted_mm` wide, in steps of 0.05 mm, never narrower than it was. */
export function widened(
  routed: Routed,
  pads: readonly PlacedPad[],
  rules: Rules,
  wanted_mm: (net: string) => number,
): Track[] {
  const all = routed.tracks.flatMap(pieces);
  for (const [i, track] of all.entries()) {
    const wanted = wanted_mm(track.net);
    if (wanted <= track.width) continue;
    const width = Math.min(wanted, Math.floor(room(track, all, routed, pads, rules) * 2 * 20 + 1e-6) / 20);
    if (width > track.width) all[i] = { ...track, width };
  }
  return joined(all);
}
