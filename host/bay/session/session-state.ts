// What a pull session knows, as plain data: it can be kept as JSON, stopped, and gone
// on with. And what happens to it: readings, taps, entries. Times in seconds on the
// session's own clock, currents in mA.

import type { Observation } from '../search/belief.ts';
import type { Evidence } from '../search/evidence.ts';
import type { LevelMemory } from '../search/level.ts';
import type { Costs } from '../search/moves.ts';
import type { Proposal } from '../search/planner.ts';

export type BayEvent =
  | { kind: 'reading'; t_s: number; mean_mA: number; min_mA: number; max_mA: number }
  /** What is asked for now has been done: a key, a button, a foot switch. */
  | { kind: 'tap'; t_s: number }
  /** Something else than what is asked for was done. */
  | { kind: 'did'; t_s: number; what: 'pulled' | 'unplugged' | 'refitted'; node: number }
  | { kind: 'bridge'; t_s: number; on: boolean }
  | { kind: 'drop'; t_s: number; node: number; drop_mV: number }
  | { kind: 'evidence'; t_s: number; evidence: Evidence }
  | { kind: 'answer'; t_s: number; yes: boolean }
  /** A fuse or part is to be left alone, or no longer. */
  | { kind: 'alone'; t_s: number; node: number; alone: boolean }
  /** The last thing that was tapped or entered did not happen so. */
  | { kind: 'wrong'; t_s: number }
  /** The move proposed cannot be made here: another one. */
  | { kind: 'skip'; t_s: number }
  | { kind: 'stop'; t_s: number };

export type Phase =
  /** Waits for a still level. `settled_s`: how long a level other than `target_mA` must hold before it is believed. */
  | { name: 'levelling'; since_s: number; target_mA: number | null; patience_s: number }
  | { name: 'proposing'; since_s: number }
  | {
      name: 'measuring';
      what: 'pulled' | 'unplugged';
      node: number;
      at_s: number;
      tapped: boolean;
      before_mA: number;
      beforeSigma_mA: number;
    }
  | { name: 'bridge-on'; node: number; since_s: number }
  | { name: 'refitting'; node: number; since_s: number }
  | { name: 'bridge-off'; node: number; since_s: number }
  | { name: 'settling'; node: number; since_s: number; target_mA: number }
  | { name: 'asking'; question: Question; node: number; other: number | null; since_s: number; before_mA: number }
  | { name: 'finished'; outcome: Outcome };

/**
 * `late-or-new`: was it `node`, whose tap came early (and not `other`, which is asked for now)? `was-it`: has `node`
 * just
 * been taken out (`other` is the same where its tap came early)? `back-in`: is `node` really in again? `what-feeds`: is
 * a
 * restraint or high-voltage circuit among what the list does not name behind `node` (`other` null), or is `other` one?
 */
export type Question = 'late-or-new' | 'back-in' | 'was-it' | 'what-feeds';

/** `found`: what is named brings the car within the allowance. `nothing`: it was within from the start. */
export type Outcome = 'found' | 'nothing' | 'undecided' | 'stopped';

export interface Named {
  /** The part. */
  node: number;
  amount_mA: number;
  sigma_mA: number;
  probability: number;
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
  costs: Costs;
}

export interface SessionState {
  version: 1;
  /** The CSV that the tree was read from: a session kept is whole in itself. */
  treeText: string;
  options: SessionOptions;
  now_s: number;
  bridge: 'on' | 'off';
  phase: Phase;
  level: LevelMemory;
  /** What the car draws as it is now, with what is out, while it sleeps; null before it was measured. */
  base_mA: number | null;
  observations: Observation[];
  out: { node: number; amount_mA: number }[];
  /** Marked at the car as to be left alone, by node; `false` where that takes back a mark of the list. */
  alone: Record<number, boolean>;
  /**
   * Parts that the list does not name: those that are harmless, and those of a restricted circuit, as the technician
   * says.
   */
  cleared: number[];
  restricted: number[];
  /** How often each test was done, by `testName`. */
  done: Record<string, number>;
  evidence: Evidence[];
  named: Named[];
  /** The best moves, best first, as of the last result. */
  plan: Proposal[];
  /** To be done again because it was not sure. */
  repeat: { kind: 'pull' | 'unplug'; node: number } | null;
  /** What fell after results that said nothing, until a refit shows where it belongs. */
  unplaced_mA: number;
  /** What was just taken out when that fell, latest last: they go in again first, to see it come back. */
  suspects: number[];
  /** Whether the car was watched a last time before giving up. */
  lastLook: boolean;
  /** How long the car took to settle after each refit. */
  settled_s: number[];
  log: LogEntry[];
}

/**
 * Whether the bridge is on while nothing goes in: a door is opened, or it was forgotten. Nothing can be measured then.
 */
export function bridgedAside({ bridge, phase }: SessionState): boolean {
  return bridge === 'on' && !['bridge-on', 'refitting', 'bridge-off', 'finished'].includes(phase.name);
}
