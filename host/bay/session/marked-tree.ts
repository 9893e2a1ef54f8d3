// The feed tree of a session: the list as it was read, with what was said of its circuits
// at the car.

import { restrict } from '../tree/care.ts';
import { readTree } from '../tree/tree-build.ts';
import { called } from '../tree/tree.ts';
import type { FeedTree } from '../tree/tree.ts';

export interface MarkedList {
  /** The CSV that the tree is read from: a session kept is whole in itself. */
  readonly treeText: string;
  /** Marked at the car as to be left alone, by node; `false` where that takes back a mark of the list. */
  readonly alone: Readonly<Record<number, boolean>>;
  /** Parts that the list does not name, as the technician says: those that are harmless. */
  readonly cleared: readonly number[];
  /** And those of a restraint or high-voltage circuit. */
  readonly restricted: readonly number[];
}

const known = new WeakMap<MarkedList, FeedTree>();

/**
 * The tree of a list, not to be changed. Read once for each list, some milliseconds; then kept as long as the list is.
 * @throws Error naming the first mistake in the text
 */
export function treeOf({ list }: { readonly list: MarkedList }): FeedTree {
  const before = known.get(list);
  if (before !== undefined) return before;
  const { tree, complaints } = readTree(list.treeText);
  if (tree === null)
    throw new Error(`the feed tree has a mistake in line ${complaints[0]!.line}: ${complaints[0]!.text}`);
  for (const [node, alone] of Object.entries(list.alone)) tree.nodes[Number(node)]!.alone = alone;
  for (const part of [...list.cleared, ...list.restricted]) tree.nodes[part]!.unknown = false;
  for (const part of list.restricted) restrict(tree, part);
  known.set(list, tree);
  return tree;
}

/** How a node of the list is called in a sentence. */
export const nameOf = (state: { readonly list: MarkedList }, node: number): string => called(treeOf(state), node);
