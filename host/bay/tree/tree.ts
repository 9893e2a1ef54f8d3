// The feed tree of a car: which fuse or relay feeds which further fuses, relays and
// parts. Parts are numbered so that those behind any node are one stretch of numbers.

/** Words of the `type` column. A bolted link cannot be pulled; a relay has no resistance to read a current from. */
export type FeedType = 'regular' | 'miniature' | 'micro' | 'large' | 'bolted' | 'relay';

export interface TreeNode {
  id: number;
  /** Unique: the position, `box/position` where two boxes have that position, or the part's name. */
  name: string;
  kind: 'fuse' | 'relay' | 'part';
  /** Box and position; a part carries its feeder's box and an empty position. */
  box: string;
  position: string;
  rating_A: number | null;
  type: FeedType | null;
  /** Null where the battery feeds it. */
  parent: number | null;
  children: number[];
  /** Parts behind it: numbers from `first` up to but not `end`. A part is behind itself. */
  first: number;
  end: number;
  /** Line of the file that names it first, for complaints. */
  line: number;
  /** Of a restraint or high-voltage circuit, or feeds one: only the car maker's procedure may touch it. */
  restricted: boolean;
  /** Marked by the technician, in the list or at the car, as one to be left alone. */
  alone: boolean;
  /** A part that the list does not name, and nobody has said yet that it is no such circuit. */
  unknown: boolean;
}

export interface FeedTree {
  nodes: TreeNode[];
  roots: number[];
  /** Node id of each part number. */
  parts: number[];
}

/** Whether `id` is `above` itself or lies behind it. */
export function isBehind(tree: FeedTree, id: number, above: number): boolean {
  for (let at: number | null = id; at !== null; at = tree.nodes[at]!.parent) if (at === above) return true;
  return false;
}

export function partCount(tree: FeedTree, id: number): number {
  const node = tree.nodes[id]!;
  return node.end - node.first;
}

/** The way of the current, from the battery: `F1 > F12 > radio`. */
export function wayTo(tree: FeedTree, id: number): string {
  const names: string[] = [];
  for (let at: number | null = id; at !== null; at = tree.nodes[at]!.parent) names.unshift(tree.nodes[at]!.name);
  return names.join(' > ');
}

/** How a node is called in a sentence: `fuse F12 (dash)`. */
export function called(tree: FeedTree, id: number): string {
  const node = tree.nodes[id]!;
  if (node.kind === 'part') return node.name;
  return `${node.kind} ${node.position}${node.box === '' ? '' : ` (${node.box})`}`;
}

/** A node by its name, upper or lower case, with or without its box. Null where there is none or more than one. */
export function findNode(tree: FeedTree, text: string): TreeNode | null {
  const wanted = text.trim().toLowerCase();
  const exact = tree.nodes.filter(
    (node) => node.name.toLowerCase() === wanted || `${node.box}/${node.position}`.toLowerCase() === wanted,
  );
  const found =
    exact.length > 0
      ? exact
      : tree.nodes.filter((node) => node.position !== '' && node.position.toLowerCase() === wanted);
  return found.length === 1 ? found[0]! : null;
}

/** Numbers the parts depth first, so that each node's parts are one stretch. */
export function numberParts(nodes: TreeNode[]): FeedTree {
  const tree: FeedTree = {
    nodes,
    roots: nodes.filter((node) => node.parent === null).map((node) => node.id),
    parts: [],
  };
  const visit = (id: number) => {
    const node = nodes[id]!;
    node.first = tree.parts.length;
    if (node.kind === 'part') tree.parts.push(id);
    node.children.forEach(visit);
    node.end = tree.parts.length;
  };
  tree.roots.forEach(visit);
  return tree;
}
