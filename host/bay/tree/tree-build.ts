// From rows to a feed tree that can be trusted: what a name in `feeds` leads to, and
// what is wrong with it (loops, unknown names, doubles), each with its line.

import { restrictByName, unknownName } from './care.ts';
import { numberParts } from './tree.ts';
import type { FeedTree, TreeNode } from './tree.ts';
import { readRows } from './tree-rows.ts';
import type { Complaint, TreeRow } from './tree-rows.ts';

export type { Complaint } from './tree-rows.ts';

export interface TreeResult {
  /** Null where `complaints` is not empty. */
  tree: FeedTree | null;
  complaints: Complaint[];
  /** Worth a look, but the tree stands. */
  warnings: Complaint[];
}

/** Ten times the fuses of a large car, and names for all that they feed: more is another file, or hostile. */
const ROWS_MAX = 2000;
const TEXT_MAX = 1_000_000;

/**
 * Reads a feed tree from the text of a CSV: columns box, position, rating (A), type,
 * feeds; several names in `feeds` are separated by commas or semicolons. A name that is
 * some row's position (or `box/position`) is that fuse or relay, any other is a part. A
 * `yes` in the column `leave alone` keeps this program's hands off that fuse.
 */
export function readTree(text: string): TreeResult {
  if (text.length > TEXT_MAX)
    return refused(`the file has ${text.length} characters and is no list of fuses; ${TEXT_MAX} are the most`);
  const { rows, complaints } = readRows(text);
  if (rows.length > ROWS_MAX)
    return refused(`the file has ${rows.length} rows; a car has some hundred fuses, and ${ROWS_MAX} rows are the most`);
  const builder = new Builder(rows, complaints);
  const nodes = builder.build();
  if (complaints.length === 0 && nodes.every((node) => node.kind === 'part'))
    complaints.push({ line: 1, text: 'there is no fuse in the file' });
  complaints.sort((a, b) => a.line - b.line);
  if (complaints.length > 0) return { tree: null, complaints, warnings: builder.warnings };
  const tree = numberParts(nodes);
  restrictByName(tree);
  return { tree, complaints, warnings: builder.warnings };
}

const refused = (text: string): TreeResult => ({ tree: null, complaints: [{ line: 1, text }], warnings: [] });

const key = (text: string) => text.toLowerCase().replace(/\s+/g, ' ');

class Builder {
  readonly warnings: Complaint[] = [];
  private readonly nodes: TreeNode[] = [];
  private readonly byName = new Map<string, TreeNode[]>();
  private readonly partsByName = new Map<string, TreeNode>();
  private readonly partsByLetters = new Map<string, TreeNode>();
  /** Boxes of each position. */
  private readonly boxesOf = new Map<string, Set<string>>();

  constructor(
    private readonly rows: TreeRow[],
    private readonly complaints: Complaint[],
  ) {
    for (const row of rows)
      this.boxesOf.set(key(row.position), (this.boxesOf.get(key(row.position)) ?? new Set()).add(key(row.box)));
  }

  build(): TreeNode[] {
    const seen = new Map<string, TreeRow>();
    const kept = this.rows.filter((row) => {
      const before = seen.get(key(`${row.box}/${row.position}`));
      if (before !== undefined)
        this.complain(row.line, `${place(row)} is there twice; the other one is in line ${before.line}`);
      else seen.set(key(`${row.box}/${row.position}`), row);
      return before === undefined;
    });
    const own = kept.map((row) => ({ row, node: this.add(row) }));
    for (const { row, node } of own) this.connect(row, node);
    this.findLoops();
    for (const { node } of own)
      if (node.children.length === 0) this.addPart(`what ${node.name} feeds`, node, node.line, true);
    return this.nodes;
  }

  private complain(line: number, text: string): void {
    this.complaints.push({ line, text });
  }

  private add(row: TreeRow): TreeNode {
    const twins = this.boxesOf.get(key(row.position))!.size - 1;
    const node = this.push({
      name: twins > 0 ? `${row.box}/${row.position}` : row.position,
      kind: row.type === 'relay' ? 'relay' : 'fuse',
      box: row.box,
      position: row.position,
      rating_A: row.rating_A,
      type: row.type,
      line: row.line,
      alone: row.alone,
      unknown: false,
    });
    for (const name of new Set([key(row.position), key(`${row.box}/${row.position}`)]))
      this.byName.set(name, [...(this.byName.get(name) ?? []), node]);
    return node;
  }

  private push(part: Omit<TreeNode, 'id' | 'parent' | 'children' | 'first' | 'end' | 'restricted'>): TreeNode {
    const node: TreeNode = {
      ...part,
      id: this.nodes.length,
      parent: null,
      children: [],
      first: 0,
      end: 0,
      restricted: false,
    };
    this.nodes.push(node);
    return node;
  }

  private connect(row: TreeRow, node: TreeNode): void {
    const listed = new Set<string>();
    for (const name of row.feeds) {
      if (listed.has(key(name))) {
        this.complain(row.line, `${node.name} lists '${name}' twice`);
        continue;
      }
      listed.add(key(name));
      const found = this.meant(name, row, node);
      if (found === 'wrong') continue;
      if (found === null) this.addPart(name, node, row.line);
      else this.hang(found, node, row.line);
    }
  }

  /** The fuse that a name means; null for a part. */
  private meant(name: string, row: TreeRow, node: TreeNode): TreeNode | null | 'wrong' {
    const all = this.byName.get(key(name)) ?? [];
    // Where several boxes have that position, the one in the same box is meant only if it says so.
    if (all.length > 1) {
      this.complain(
        row.line,
        `'${name}' is in more than one box; write ${all.map((one) => `${one.box}/${one.position}`).join(' or ')}`,
      );
      return 'wrong';
    }
    if (all.length === 1) return all[0]!;
    if (!this.looksLikePosition(name)) return null;
    this.complain(
      row.line,
      `${node.name} feeds '${name}', but no row has that position; add the row, or spell it as in its own row`,
    );
    return 'wrong';
  }

  /**
   * A name with a box of the file before a slash, or built as positions of the file are: F99 where there are F1, F2.
   */
  private looksLikePosition(name: string): boolean {
    const slash = name.indexOf('/');
    if (slash > 0 && this.rows.some((row) => row.box !== '' && key(row.box) === key(name.slice(0, slash)))) return true;
    const shape = shapeOf(name);
    return shape !== null && this.rows.some((row) => shapeOf(row.position) === shape);
  }

  private hang(child: TreeNode, feeder: TreeNode, line: number): void {
    if (child === feeder) return this.complain(line, `${feeder.name} is said to feed itself`);
    if (child.parent !== null) {
      return this.complain(
        line,
        `${child.name} is fed by ${this.nodes[child.parent]!.name} and by ${feeder.name}; a fuse has one feed: take it out of one of the two`,
      );
    }
    child.parent = feeder.id;
    feeder.children.push(child.id);
  }

  private addPart(name: string, feeder: TreeNode, line: number, unknown = unknownName(name)): void {
    const before = this.partsByName.get(key(name));
    if (before !== undefined) {
      const other = this.nodes[before.parent!]!.name;
      return this.complain(
        line,
        `'${name}' is fed by ${other} (line ${before.line}) and by ${feeder.name}; name the two feeds apart, such as '${name} memory' and '${name} main'`,
      );
    }
    const node = this.push({
      name,
      kind: 'part',
      box: feeder.box,
      position: '',
      rating_A: feeder.rating_A,
      type: null,
      line,
      alone: false,
      unknown,
    });
    node.parent = feeder.id;
    feeder.children.push(node.id);
    this.partsByName.set(key(name), node);
    const near = this.partsByLetters.get(letters(name));
    if (near === undefined) this.partsByLetters.set(letters(name), node);
    else
      this.warnings.push({
        line,
        text: `'${name}' and '${near.name}' (line ${near.line}) are spelt almost alike; are they the same part?`,
      });
  }

  private findLoops(): void {
    const told = new Set<number>();
    for (const start of this.nodes) {
      const way: TreeNode[] = [];
      let at: TreeNode | undefined = start;
      while (at !== undefined && !way.includes(at) && !told.has(at.id)) {
        way.push(at);
        at = at.parent === null ? undefined : this.nodes[at.parent];
      }
      const from = at === undefined || told.has(at.id) ? -1 : way.indexOf(at);
      if (from >= 0) {
        const loop = way.slice(from).reverse();
        this.complain(
          Math.min(...loop.map((node) => node.line)),
          `a loop: ${[...loop, loop[0]!].map((node) => node.name).join(' feeds ')}; one of them must be fed from elsewhere`,
        );
      }
      way.forEach((node) => told.add(node.id));
    }
  }
}

const letters = (name: string) => name.toLowerCase().replace(/[^\p{L}\p{N}]/gu, '');
const place = (row: TreeRow) => (row.box === '' ? row.position : `${row.box}/${row.position}`);

/** `F12` and `F7` are of one shape; words without digits have none. */
function shapeOf(name: string): string | null {
  return /^[a-z]{0,3}[ -]?\d{1,3}[a-z]?$/i.test(name) ? name.toLowerCase().replace(/\d+/, '#') : null;
}
