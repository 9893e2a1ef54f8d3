// What may be done to each fuse, relay and part. A circuit is all that hangs on one fuse, with
// or without a relay between: where one part of it is restricted, the whole circuit is, and
// every fuse above it, since pulling that would take its supply too.

import { restrictedName } from './restricted.ts';
import type { FeedTree, TreeNode } from './tree.ts';

/** `measure only`: a voltage across it may be read, nothing is taken out. `leave alone`: not even that. */
export type Care = 'free' | 'measure only' | 'leave alone';

/** Names that say nothing, and what somebody writes where he does not know. */
const UNKNOWN =
  /^(\?+|-+|n\.?\/?a\.?|none|tbd|unknown|unnamed|unlabell?ed|not (known|listed|named|used|in use)|unused|spare|reserved?|various|misc(ellaneous)?|others?|see (the )?manual)[ .:#-]*\d*$/i;

export const unknownName = (name: string): boolean => UNKNOWN.test(name.trim());

/** Marks what the names of the list show to be restricted, once the tree stands. */
export function restrictByName(tree: FeedTree): void {
  // Boxes and positions come again and again.
  const known = new Map<string, boolean>();
  const is = (name: string) => {
    if (!known.has(name)) known.set(name, restrictedName(name));
    return known.get(name)!;
  };
  for (const node of tree.nodes) if ([node.name, node.position, node.box].some(is)) restrict(tree, node.id);
}

/** Marks the circuit of a node, what lies behind it, and what feeds it. */
export function restrict(tree: FeedTree, id: number): void {
  const node = tree.nodes[id]!;
  const circuit = circuitOf(tree, circuitFuse(tree, node));
  for (const one of [...within(tree, node), ...circuit, ...feedersOf(tree, node)]) one.restricted = true;
}

/** What this program may propose for a node. */
export function careOf(tree: FeedTree, id: number): Care {
  const node = tree.nodes[id]!;
  if (node.alone || feedersOf(tree, node).some((above) => above.alone)) return 'leave alone';
  return node.restricted || within(tree, node).some((behind) => behind.alone) ? 'measure only' : 'free';
}

/**
 * Parts that the list does not name and that a move would touch: all behind a fuse that is
 * pulled, those of its own circuit where only a voltage is read.
 */
export function unknownParts(tree: FeedTree, kind: 'drop' | 'pull' | 'unplug', id: number): number[] {
  const touched = kind === 'drop' ? circuitOf(tree, id) : within(tree, tree.nodes[id]!);
  return touched.filter((node) => node.unknown).map((node) => node.id);
}

/** A node and all behind it. */
function within(tree: FeedTree, node: TreeNode): TreeNode[] {
  const found = [node];
  for (let at = 0; at < found.length; at++) for (const child of found[at]!.children) found.push(tree.nodes[child]!);
  return found;
}

function feedersOf(tree: FeedTree, node: TreeNode): TreeNode[] {
  const found: TreeNode[] = [];
  for (let at = node.parent; at !== null; at = tree.nodes[at]!.parent) found.push(tree.nodes[at]!);
  return found;
}

/** The fuse that protects a node: itself, or the nearest above; the topmost feeder where there is none. */
function circuitFuse(tree: FeedTree, node: TreeNode): number {
  let at = node;
  while (at.kind !== 'fuse' && at.parent !== null) at = tree.nodes[at.parent]!;
  return at.id;
}

/** A fuse with the relays and parts that no other fuse protects. */
function circuitOf(tree: FeedTree, fuse: number): TreeNode[] {
  const found = [tree.nodes[fuse]!];
  for (let at = 0; at < found.length; at++)
    for (const child of found[at]!.children) if (tree.nodes[child]!.kind !== 'fuse') found.push(tree.nodes[child]!);
  return found;
}
