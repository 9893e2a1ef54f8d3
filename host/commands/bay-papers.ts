// The parts of `bay` that need no board: a tree looked over, the voltages of a box, two
// nights compared, and what to leave out for a night.

import { current } from '../say/quantities.ts';
import { readFileSync } from 'node:fs';
import { dirname } from 'node:path';
import type { Findings } from '../contract/findings.ts';
import { weightsOf } from '../bay/session/conclude.ts';
import { csvText } from '../bay/tree/csv-text.ts';
import { readDrops, tableOf } from '../bay/search/drop-list.ts';
import { oddsInWords } from '../bay/search/evidence.ts';
import { compareBoards, compareNights, nightAdvice } from '../bay/search/intermittent.ts';
import type { NightAdvice } from '../bay/search/intermittent.ts';
import { SOURCE_WORDS } from '../bay/tree/fuses.ts';
import { hintsFromNight } from '../bay/search/night-hints.ts';
import { CLOSING_LIST, compareRepair, repairTable } from '../bay/work/repair.ts';
import { readTree } from '../bay/tree/tree-build.ts';
import { findNode } from '../bay/tree/tree.ts';
import type { FeedTree } from '../bay/tree/tree.ts';
import { judgedNight } from '../night/judge.ts';
import { sentence, table } from './columns.ts';
import { UsageError } from './command.ts';
import type { OptionValues } from './command.ts';
import { nightOptions, toldBy } from './night-options.ts';
import { workshopSettings } from './settings-file.ts';

/** Mistakes told at once: a file full of them is mended from the top. */
const COMPLAINTS_MAX = 8;

/** @throws Error naming the file, in one sentence */
export function textOf(path: string): string {
  try {
    return csvText(readFileSync(path));
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code ?? 'unknown';
    const why = code === 'ENOENT' ? 'is not there' : code === 'EISDIR' ? 'is a folder' : `cannot be read (${code})`;
    throw new Error(`${path} ${why}; give the CSV file that you wrote`, { cause: error });
  }
}

/** The tree, and its text as it is kept. Every mistake goes to `say`; one of them ends it. */
export function treeFrom(path: string, say: (line: string) => void): { tree: FeedTree; text: string } {
  const text = textOf(path);
  const { tree, complaints, warnings } = readTree(text);
  for (const { line, text: words } of warnings) say(`${path}, line ${line}: ${words}`);
  if (tree !== null) return { tree, text };
  if (complaints.length > 1)
    for (const { line, text: words } of complaints.slice(0, COMPLAINTS_MAX)) say(`${path}, line ${line}: ${words}`);
  const { line, text: words } = complaints[0]!;
  throw new Error(
    complaints.length === 1
      ? `${path}, line ${line}: ${words}`
      : `${path} has ${complaints.length} mistakes, the first in line ${line}; put them right and try again`,
  );
}

export function treeInWords(path: string, tree: FeedTree): string {
  const count = (kind: string) => {
    const number = tree.nodes.filter((node) => node.kind === kind).length;
    return `${number} ${kind}${number === 1 ? '' : 's'}`;
  };
  return `${path}: ${count('fuse')}, ${count('relay')}, ${count('part')}; no mistake found`;
}

export function dropsInWords(tree: FeedTree, path: string, total_mA: number | null, step_mV: number): string {
  const list = readDrops(textOf(path), tree);
  if (list.complaints.length > 0)
    throw new Error(`${path}, line ${list.complaints[0]!.line}: ${list.complaints[0]!.text}`);
  const result = tableOf(list, total_mA, step_mV);
  const rows = [...result.rows]
    .sort((a, b) => (b.reading?.current_mA ?? 0) - (a.reading?.current_mA ?? 0))
    .map(({ name, drop_mV, reading }) =>
      reading === null
        ? [name, `${drop_mV} mV`, 'not known', '', '']
        : [
            name,
            `${drop_mV} mV`,
            `${current(reading.current_mA)}`,
            `${reading.low_mA.toFixed(0)} to ${reading.high_mA.toFixed(0)}`,
            `resistance ${SOURCE_WORDS[reading.source]}`,
          ],
    );
  return [...table(rows, 'lrrrl'), sentence(result.sentence)].join('\n');
}

async function findingsOf(path: string, values: OptionValues): Promise<Findings> {
  const told = toldBy(values);
  const workshop = workshopSettings(undefined, [dirname(path), '.']);
  nightOptions(workshop, told);
  return (await judgedNight(path, { workshop, asked: told })).night;
}

/** Before and after the repair. */
export async function comparedInWords(before: string, after: string, values: OptionValues): Promise<string> {
  const result = compareRepair(await findingsOf(before, values), await findingsOf(after, values));
  const rows = [['', 'before', 'after'], ...repairTable(result)];
  const list =
    result.code === 'proven'
      ? ['', 'Before the car goes:', ...CLOSING_LIST.map((item) => sentence(item.text, '  [ ] ', '      '))]
      : [];
  return [sentence(result.sentence), '', ...table(rows, 'lrr'), ...list].join('\n');
}

/** One circuit and the wake-ups: `leftOut` in the other night, or `watched` in the same one by a second board. */
export async function circuitInWords(
  night: string,
  other: string,
  values: OptionValues,
  how: 'leftOut' | 'watched',
  tree: FeedTree,
  name: string,
): Promise<string> {
  const node = findNode(tree, name);
  if (node === null)
    throw new UsageError(
      `--${how === 'leftOut' ? 'left-out' : 'at'} ${name} is no fuse of the tree, or there are several; write box/position`,
    );
  const compare = how === 'leftOut' ? compareNights : compareBoards;
  const fates = compare(tree, await findingsOf(night, values), await findingsOf(other, values), node.id);
  return fates.length === 0
    ? `${night} has no family of wake-ups to look for`
    : fates.map(({ text }) => sentence(text)).join('\n');
}

/** Which circuit to leave out or to watch for a night. */
export async function adviceInWords(tree: FeedTree, night: string, values: OptionValues): Promise<string> {
  const hints = hintsFromNight(await findingsOf(night, values), tree, night);
  const told = hints.map((hint) =>
    sentence(`${tree.nodes[hint.node]!.name}: ${hint.text} (${oddsInWords(hint.odds)})`, '  ', '    '),
  );
  const advice = nightAdvice(tree, weightsOf(tree, hints, 0));
  return [
    ...(told.length === 0 ? [] : ['The night suggests:', ...told, '']),
    ...advice.map(({ text }, i) => sentence(text, `${i + 1}. `, '   ')),
    ...nextNight(advice),
  ].join('\n');
}

/** How the night after is looked at. */
function nextNight(advice: readonly NightAdvice[]): string[] {
  const has = (how: NightAdvice['how']) => advice.some((one) => one.how === how);
  return [
    '',
    'In the morning:',
    ...(has('leave out') ? ['  nightdraw bay --tree CAR.csv --before FIRST --after SECOND --left-out FUSE'] : []),
    ...(has('second board') ? ['  nightdraw bay --tree CAR.csv --night FILE --second ITS-FILE --at FUSE'] : []),
  ];
}
