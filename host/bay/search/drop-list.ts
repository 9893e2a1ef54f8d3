// The readings of a whole box, written down as a CSV: a fuse and its mV a row.

import { boxTable, currentFromDrop } from '../tree/fuses.ts';
import type { BoxTable } from '../tree/fuses.ts';
import { splitRecords } from '../tree/tree-rows.ts';
import type { Complaint } from '../tree/tree-rows.ts';
import { findNode } from '../tree/tree.ts';
import type { FeedTree, TreeNode } from '../tree/tree.ts';

/** Header spellings of the two columns. */
const FUSE = ['fuse', 'position', 'name'];
const DROP = ['mv', 'drop_mv', 'drop', 'reading'];

export interface DropList {
  readings: { node: TreeNode; above: string[]; drop_mV: number }[];
  complaints: Complaint[];
}

/** Reads the list against a tree. What is wrong is complained of and left out. */
export function readDrops(text: string, tree: FeedTree): DropList {
  const [head, ...rows] = splitRecords(text).filter(
    ({ cells }) => cells.some((cell) => cell !== '') && !cells[0]!.startsWith('#'),
  );
  const place = (names: string[]) => head?.cells.findIndex((cell) => names.includes(cell.toLowerCase())) ?? -1;
  const [fuse, drop] = [place(FUSE), place(DROP)];
  if (fuse < 0 || drop < 0)
    return {
      readings: [],
      complaints: [{ line: head?.line ?? 1, text: "the first row names the columns 'fuse' and 'mV'" }],
    };
  // 6,9 between commas would be read as 6.
  const past = ({ cells }: (typeof rows)[number]) => cells.slice(head!.cells.length).find((cell) => cell !== '');
  const given = rows
    .filter((row) => past(row) === undefined)
    .map(({ line, cells }) => ({ line, name: cells[fuse] ?? '', written: cells[drop] ?? '' }));
  const list = checkReadings(given, tree, 'line');
  for (const row of rows)
    if (past(row) !== undefined)
      list.complaints.push({
        line: row.line,
        text: `'${past(row)}' stands past the last column; with a decimal comma, separate the columns by semicolons`,
      });
  list.complaints.sort((a, b) => a.line - b.line);
  if (list.readings.length === 0 && list.complaints.length === 0)
    list.complaints.push({
      line: head!.line,
      text: 'there is no reading in the file; write a fuse and its mV in each row',
    });
  return list;
}

/** A reading as it was written, in a file or a field: the place that it has there, the fuse, the mV. */
export interface GivenReading {
  line: number;
  name: string;
  /** A decimal comma will do. */
  written: string;
}

/**
 * Readings as they were written, each held against the tree. What is wrong is complained of and left out.
 * @param place what a complaint calls the other place where a fuse was read twice
 */
export function checkReadings(given: readonly GivenReading[], tree: FeedTree, place: string): DropList {
  const complaints: Complaint[] = [];
  const seen = new Map<number, number>();
  const readings = given.flatMap(({ line, name, written }) => {
    const complain = (words: string): [] => (complaints.push({ line, text: words }), []);
    const node = findNode(tree, name);
    if (node === null || node.kind === 'part')
      return complain(`'${name}' is no fuse of the tree, or there are several; write box/position`);
    const before = seen.get(node.id);
    if (before !== undefined) return complain(`${node.name} was read twice; the other one is in ${place} ${before}`);
    seen.set(node.id, line);
    const number = written.replace(',', '.');
    const drop_mV = number === '' ? NaN : Number(number);
    if (!Number.isFinite(drop_mV)) return complain(`'${written}' is not a voltage in mV`);
    const why = impossible(node, drop_mV);
    return why === null ? [{ node, above: aboveOf(tree, node), drop_mV }] : complain(`${node.name}: ${why}`);
  });
  return { readings, complaints };
}

/** @returns why no fuse in place can have such a drop, in words; null where it can */
function impossible(node: TreeNode, drop_mV: number): string | null {
  try {
    currentFromDrop(node.type, node.rating_A, drop_mV);
    return null;
  } catch (error) {
    if (error instanceof RangeError) return error.message;
    throw error;
  }
}

function aboveOf(tree: FeedTree, node: TreeNode): string[] {
  const names: string[] = [];
  for (let at = node.parent; at !== null; at = tree.nodes[at]!.parent) names.push(tree.nodes[at]!.name);
  return names;
}

/** @throws RangeError where a reading cannot be, in words */
export function tableOf(list: DropList, measured_mA: number | null, step_mV: number): BoxTable {
  return boxTable(list.readings, measured_mA, step_mV);
}
