// The feed tree as rows from the battery to the parts, with what is known of each in words.
// What is ruled out is folded away, what nothing speaks for is closed, and either can be opened.

import { hierarchy } from 'd3';
import type { HierarchyNode } from 'd3';
import type { FeedState, FeedTreeAnswer } from '../../host/contract/api.ts';
import { counted, current } from '../../host/say/quantities.ts';

export type FeedMark = 'battery' | 'folded' | 'named' | 'possible' | 'ruled out' | 'unknown';

export interface FeedRow {
  /** The same for the same node as long as the work goes on. */
  key: string;
  /** Rows above it on the way from the battery. */
  level: number;
  /** Number of the row that it hangs on; null: the battery. */
  parent: number | null;
  name: string;
  /** What is known of it, the most pressing first. */
  words: string[];
  mark: FeedMark;
  out: boolean;
  next: boolean;
  /** Whole per cent; 0 where nothing speaks for it. */
  share_percent: number;
  /** Null where nothing hangs on it. */
  open: boolean | null;
}

/** What the page knows: the tree, its state, and the draw of each part that is named, in the order of the state. */
export interface FeedData {
  tree: FeedTreeAnswer;
  state: FeedState;
  named_mA: readonly number[];
}

/** A branch with less is closed until somebody opens it. */
const OPEN_percent = 10;

const NEXT_WORDS: Record<NonNullable<FeedState['next']>['kind'], string> = {
  drop: 'next: read the voltage across it',
  pull: 'next: pull it',
  unplug: 'next: unplug it',
  refit: 'next: put it back',
};

/** By the letter of a node's state. */
const MARK: Record<string, FeedMark> = { n: 'named', p: 'possible', r: 'ruled out', o: 'unknown' };

/** A node of the tree, the battery, or several branches that are ruled out. */
interface Place {
  key: string;
  node: number | null;
  children: Place[];
}

/**
 * Rows in the order in which they are drawn.
 * @param opened rows that somebody opened or closed, by key
 */
export function feedRows(data: FeedData, opened: ReadonlyMap<string, boolean>): FeedRow[] {
  const known = lookUp(data);
  const root = hierarchy<Place>({ key: 'battery', node: null, children: known.placesBelow(null) });
  const rows: FeedRow[] = [];
  const numbers = new Map<HierarchyNode<Place>, number>();
  const visit = (at: HierarchyNode<Place>) => {
    const { key } = at.data;
    const isOpen = at.depth === 0 || (opened.get(key) ?? known.opensItself(at));
    numbers.set(at, rows.length);
    rows.push({
      ...known.rowOf(at),
      key,
      level: at.depth,
      parent: at.parent === null ? null : numbers.get(at.parent)!,
      open: at.children === undefined || at.depth === 0 ? null : isOpen,
    });
    if (isOpen) at.children?.forEach(visit);
  };
  visit(root);
  return rows;
}

type Told = Omit<FeedRow, 'key' | 'level' | 'parent' | 'open'>;

// oxlint-disable-next-line max-lines-per-function -- all that is asked of one state, made once for all rows
function lookUp({ tree: { nodes }, state, named_mA }: FeedData) {
  const letterOf = (id: number) => state.states[id] ?? 'o';
  const children = new Map<number | null, number[]>();
  nodes.forEach(({ parent }, id) => children.set(parent, [...(children.get(parent) ?? []), id]));
  const share = new Map(state.shares);
  const boxes = new Set(nodes.map(({ box }) => box)).size;
  const [out, alone, restricted] = [new Set(state.out), new Set(state.alone), new Set(state.restricted)];
  const fedBy = (id: number, those: ReadonlySet<number>): boolean => {
    for (let at = nodes[id]!.parent; at !== null; at = nodes[at]!.parent) if (those.has(at)) return true;
    return false;
  };
  const pressing = (id: number) => letterOf(id) === 'n' || out.has(id) || state.next?.node === id;
  const pressingWithin = (id: number): boolean => pressing(id) || (children.get(id) ?? []).some(pressingWithin);

  const placeOf = (id: number): Place => ({ key: String(id), node: id, children: placesBelow(id) });
  const placesBelow = (id: number | null): Place[] => {
    const below = children.get(id) ?? [];
    const folds = below.filter((child) => letterOf(child) === 'r' && !pressingWithin(child));
    if (folds.length < 2) return below.map(placeOf);
    const others = below.filter((child) => !folds.includes(child));
    return [...others.map(placeOf), { key: `ruled out ${id ?? 'battery'}`, node: null, children: folds.map(placeOf) }];
  };

  const wordsOf = (id: number): string[] => {
    const { kind, rating_A, box } = nodes[id]!;
    const percent = share.get(id) ?? 0;
    const named = state.named.indexOf(id);
    const letter = letterOf(id);
    return [
      state.next?.node === id ? NEXT_WORDS[state.next.kind] : '',
      out.has(id) ? 'out' : fedBy(id, out) ? 'no feed now' : '',
      named >= 0 ? `named, ${current(named_mA[named] ?? 0)}` : '',
      letter === 'p' ? (percent === 0 ? 'under 1 % likely' : `${percent} % likely`) : '',
      letter === 'r' ? 'ruled out' : '',
      alone.has(id) || fedBy(id, alone) ? 'left alone' : '',
      restricted.has(id) ? "maker's procedure only" : '',
      kind === 'part'
        ? ''
        : [rating_A === null ? kind : `${rating_A} A`, ...(boxes > 1 && box !== '' ? [box] : [])].join(', '),
    ].filter((word) => word !== '');
  };

  const rowOf = ({ data: { node, children: below }, depth }: HierarchyNode<Place>): Told => {
    const nothing = { words: [], out: false, next: false, share_percent: 0 };
    if (node === null)
      return depth === 0
        ? { ...nothing, name: 'Battery', mark: 'battery' }
        : {
            ...nothing,
            name: `${counted(below.length, 'branch', 'branches')} ruled out`,
            words: [below.map((one) => nodes[one.node!]!.name).join(', ')],
            mark: 'folded',
          };
    return {
      name: nodes[node]!.name,
      words: wordsOf(node),
      mark: MARK[letterOf(node)] ?? 'unknown',
      out: out.has(node),
      next: state.next?.node === node,
      share_percent: share.get(node) ?? 0,
    };
  };

  const opensItself = ({ data: { node }, children: below }: HierarchyNode<Place>): boolean =>
    node !== null &&
    below !== undefined &&
    ((share.get(node) ?? 0) >= OPEN_percent || (children.get(node) ?? []).some(pressingWithin));

  return { placesBelow, rowOf, opensItself };
}
