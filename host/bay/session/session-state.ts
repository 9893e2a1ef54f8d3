// What a pull session knows, as plain data: it can be kept as JSON, stopped, and gone
// on with. And what happens to it: readings, taps, entries. Times in seconds on the
// session's own clock, currents in mA.

import type { Observation } from '../search/belief.ts';
import type { Evidence } from '../search/evidence.ts';
import type { LevelMemory, TraceReading } from '../search/level.ts';
import type { Proposal } from '../search/planner.ts';
import { testName } from '../search/planner.ts';
import { restrict } from '../tree/care.ts';
import { readTree } from '../tree/tree-build.ts';
import { called, isBehind } from '../tree/tree.ts';
import type { FeedTree } from '../tree/tree.ts';

export type SessionEvent = { t_s: number } & (
  | ({ kind: 'reading' } & TraceReading)
  /** Time goes by, and nothing is measured. */
  | { kind: 'time' }
  /** The car is prepared: its level counts from now on. */
  | { kind: 'prepared' }
  /** What is asked for now has been done: a key, a button, a foot switch. */
  | { kind: 'tap' }
  /** Something else than what is asked for was done. */
  | { kind: 'did'; what: 'pulled' | 'unplugged' | 'refitted'; node: number }
  | { kind: 'bridge'; on: boolean }
  | { kind: 'drop'; node: number; drop_mV: number }
  /** Those of a whole box, as one deed. */
  | { kind: 'drops'; readings: readonly { node: number; drop_mV: number }[] }
  | { kind: 'evidence'; evidence: Evidence }
  | { kind: 'answer'; yes: boolean }
  /** A fuse or part is to be left alone, or no longer. */
  | { kind: 'alone'; node: number; alone: boolean }
  /** The last thing that was tapped or entered did not happen so. */
  | { kind: 'wrong' }
  /** The move proposed cannot be made here: another one. */
  | { kind: 'skip' }
  | { kind: 'stop' }
  /** Gone on with after a stop; what the car did meanwhile is not known. */
  | { kind: 'resumed' }
  /** For the log alone. */
  | { kind: 'note'; code: string; text: string }
);

export type Phase =
  /** Waits for a still level. `patience_s`: how long a level other than `target_mA` must hold before it is believed. */
  | { name: 'levelling'; since_s: number; target_mA: number | null; patience_s: number }
  | { name: 'proposing'; since_s: number }
  | {
      name: 'measuring';
      kind: TestKind;
      node: number;
      at_s: number;
      tapped: boolean;
      before_mA: number;
      beforeSigma_mA: number;
    }
  /** `node` goes in again: the bridge on, itself, the bridge off. */
  | { name: 'bridge-on' | 'refitting' | 'bridge-off'; node: number; since_s: number }
  | { name: 'settling'; node: number; since_s: number; target_mA: number }
  | { name: 'asking'; question: Question; node: number; other: number | null; since_s: number; before_mA: number }
  | { name: 'finished'; outcome: Outcome };

/** What takes something out. */
export type TestKind = 'pull' | 'unplug';

/** A phase by its name. */
export type PhaseOf<N extends Phase['name']> = Extract<Phase, { name: N }>;

/**
 * `late-or-new`: was it `node`, whose tap came early (and not `other`, which is asked for now)? `was-it`: has `node`
 * just been taken out (`other` is the same where its tap came early)? `back-in`: is `node` really in again?
 * `what-feeds`: is a restraint or high-voltage circuit among what the list does not name behind `node` (`other` null),
 * or is `other` one?
 */
export type Question = 'late-or-new' | 'back-in' | 'was-it' | 'what-feeds';

/** `found`: what is named brings the car within the allowance. `nothing`: it was within from the start. */
export type Outcome = 'found' | 'nothing' | 'undecided' | 'stopped';

export interface Named {
  /** The part. */
  node: number;
  amount_mA: number;
  sigma_mA: number;
}

export interface LogEntry {
  t_s: number;
  /** For programs that read the log. */
  code: string;
  text: string;
}

export interface SessionOptions {
  allowance_mA: number;
  /** The meter's last digit in mV; null without such a meter. */
  step_mV: number | null;
}

/** The list as it was read, with what was said of its circuits at the car. */
export type MarkedList = Readonly<{
  /** The CSV that the tree is read from: a session kept is whole in itself. */
  treeText: string;
  /** Marked at the car as to be left alone, by node; `false` where that takes back a mark of the list. */
  alone: Readonly<Record<number, boolean>>;
  /** Parts that the list does not name, as the technician says: those that are harmless. */
  cleared: readonly number[];
  /** And those of a restraint or high-voltage circuit. */
  restricted: readonly number[];
}>;

/** Never changed: each event makes a new one, which shares with the old one what stayed. */
export type Session = Readonly<{
  list: MarkedList;
  options: SessionOptions;
  now_s: number;
  bridge: 'on' | 'off';
  phase: Phase;
  memory: LevelMemory;
  /** When the last tap came; null before the first. */
  tap_s: number | null;
  /** What the car draws as it is now, with what is out, while it sleeps; null before it was measured. */
  base_mA: number | null;
  /** The first level of all stands first. */
  observations: readonly Observation[];
  out: readonly { node: number; amount_mA: number }[];
  /** How often each test was done, by `testName`. */
  done: Readonly<Record<string, number>>;
  evidence: readonly Evidence[];
  named: readonly Named[];
  /** The best moves, best first, as of the last result. */
  plan: readonly Proposal[];
  /** To be done again because it was not sure. */
  repeat: { kind: TestKind; node: number } | null;
  /** What fell after results that said nothing, until a refit shows where it belongs. */
  unplaced_mA: number;
  /** What was just taken out when that fell, latest last: they go in again first, to see it come back. */
  suspects: readonly number[];
  /** Whether the car was watched a last time before giving up. */
  lastLook: boolean;
  /** How long the car took to settle after each refit. */
  settled_s: readonly number[];
  log: readonly LogEntry[];
}>;

const known = new WeakMap<MarkedList, FeedTree>();

/**
 * The tree of a list, not to be changed. Read once for each list, some milliseconds; then kept as long as the list is.
 * @throws Error naming the first mistake in the text
 */
export function treeOf({ list }: Pick<Session, 'list'>): FeedTree {
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
export const nameOf = (state: Session, node: number) => called(treeOf(state), node);

/** Whether the bridge is on while nothing goes in: a door is opened, or it was forgotten. Nothing is measured then. */
export function bridgedAside({ bridge, phase }: Session): boolean {
  return bridge === 'on' && !['bridge-on', 'refitting', 'bridge-off', 'finished'].includes(phase.name);
}

/** The test that is proposed; null where that is a reading, a refit, or nothing. */
export function proposedTest({ plan: [next] }: Session): Session['repeat'] {
  return next?.kind === 'pull' || next?.kind === 'unplug' ? { kind: next.kind, node: next.node } : null;
}

/** Whether something was taken out for an observation. */
export const isTest = (one: Observation): one is Observation & { how: TestKind } =>
  one.how === 'pull' || one.how === 'unplug';

/** Whether the first level of all was measured. */
export const hasTotal = ({ observations }: Session) => observations[0]?.how === 'total';

export const timesDone = ({ done }: Session, kind: string, node: number) => done[testName(kind, node)] ?? 0;

/** Whether what feeds a node is out, or itself. */
export const isDark = (state: Session, node: number) =>
  state.out.some((one) => isBehind(treeOf(state), node, one.node));

/** What is out, and what came out just now and is being measured. */
export function outNow({ phase, out }: Session): number[] {
  const just = phase.name === 'measuring' && phase.tapped ? [phase.node] : [];
  return [...new Set([...out.map((one) => one.node), ...just])];
}
