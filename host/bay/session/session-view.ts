// What a session says: the next thing to do, why, what it waits for, the cautions that
// belong to that, and what is believed so far. Words for a screen of any kind.

import { believe } from '../search/belief.ts';
import { namedSum_mA, restNow_mA, soughtDraws, weightsOf } from './conclude.ts';
import { oddsInWords, oddsOf } from '../search/evidence.ts';
import type { Proposal } from '../search/planner.ts';
import type { PullSession } from './session.ts';
import { bridgedAside } from './session-state.ts';
import type { Phase } from './session-state.ts';
import { SETTLE_s_MAX } from './settling.ts';
import { careOf, unknownParts } from '../tree/care.ts';
import { CAUTIONS } from '../../say/cautions.ts';
import { called, isBehind, wayTo } from '../tree/tree.ts';
import type { FeedTree } from '../tree/tree.ts';

export interface SessionView {
  phase: string;
  /** One sentence: what to do, or what is waited for. */
  headline: string;
  /** Why that, in a sentence; empty where it needs none. */
  why: string;
  cautions: string[];
  /** What is asked with yes or no; null where nothing is. */
  question: string | null;
  /** How long a wait may be, seconds; null where nothing is waited for. */
  wait: null | { usually_s: number; most_s: number };
  /** What is asked for now, for a machine. */
  move: null | { kind: Proposal['kind']; node: number; name: string };
  /** Other moves, next best first. */
  others: { kind: string; name: string; expected_s: number }[];
  total_mA: number | null;
  now_mA: number | null;
  named: { name: string; way: string; amount_mA: number; sigma_mA: number }[];
  /** Draws that no part is named for, each with its likeliest places. */
  sought: { amount_mA: number; places: { name: string; share: number; odds: string | null }[] }[];
  /** What would be left with all that is named gone; null before the first level. */
  rest_mA: number | null;
  out: string[];
  /** Left alone, as it was marked in the list or at the car. */
  alone: string[];
  finished: string | null;
}

const KEPT_PLACES = 4;
const OFF_WHEN_QUIET = 'Bridge off only when nothing runs: no fan, no lamp, doors shut.';

/** Builds the view; costs some milliseconds, so once a result and not once a reading. */
export function viewOf(session: PullSession): SessionView {
  const { state, tree } = session;
  const { phase, plan } = state;
  const next = phase.name === 'proposing' && !bridgedAside(state) ? plan[0] : undefined;
  const total = state.observations[0]?.how === 'total' ? state.observations[0].amount_mA : null;
  return {
    phase: phase.name,
    headline: headlineOf(session),
    why: next === undefined ? '' : whyOf(tree, next),
    cautions: cautionsOf(session),
    question: questionOf(session),
    wait: waitOf(session),
    move: next === undefined ? null : { kind: next.kind, node: next.node, name: tree.nodes[next.node]!.name },
    others:
      phase.name !== 'proposing'
        ? []
        : plan
            .slice(1, 4)
            .map((one) => ({ kind: one.kind, name: tree.nodes[one.node]!.name, expected_s: one.expected_s })),
    total_mA: total,
    now_mA: state.base_mA,
    named: state.named.map((one) => ({
      name: tree.nodes[one.node]!.name,
      way: wayTo(tree, one.node),
      amount_mA: one.amount_mA,
      sigma_mA: one.sigma_mA,
    })),
    sought: total === null ? [] : soughtOf(session),
    rest_mA: total === null ? null : restNow_mA(tree, state, state.named),
    out: state.out.map((one) => tree.nodes[one.node]!.name),
    alone: tree.nodes.filter((node) => node.alone).map((node) => called(tree, node.id)),
    finished: phase.name === 'finished' ? closingOf(session) : null,
  };
}

function headlineOf(session: PullSession): string {
  const { state, tree } = session;
  const { phase } = state;
  const name = 'node' in phase ? called(tree, phase.node) : '';
  if (bridgedAside(state)) return 'The bridge is on: nothing is measured. Take it off when all is quiet.';
  switch (phase.name) {
    case 'levelling':
      return state.base_mA === null
        ? 'Measuring what the car draws. Touch nothing.'
        : 'Waiting until the draw holds still. Touch nothing.';
    case 'proposing':
      return orderOf(tree, state.plan[0]!);
    case 'measuring':
      return `${name} ${phase.what}: measuring. Touch nothing.`;
    case 'bridge-on':
      return `Bridge on: ${name} goes in again.`;
    case 'refitting':
      return `Put ${name} in again.`;
    case 'bridge-off':
      return 'Bridge off.';
    case 'settling':
      return `${name} is in again. Waiting for the car to settle.`;
    case 'asking':
      return questionOf(session)!;
    case 'finished':
      return closingOf(session);
  }
}

function orderOf(tree: FeedTree, move: Proposal): string {
  const name = called(tree, move.node);
  switch (move.kind) {
    case 'drop':
      return tree.nodes[move.node]!.restricted
        ? `Only if the car maker's procedure allows it: read the voltage across ${name}, in mV.`
        : `Read the voltage across ${name}, in mV.`;
    case 'pull':
      return `Pull ${name}.`;
    case 'unplug':
      return `Unplug ${name}.`;
    case 'refit':
      return `Put ${name} in again.`;
  }
}

function whyOf(tree: FeedTree, move: Proposal): string {
  const node = tree.nodes[move.node]!;
  const parts = node.end - node.first;
  const share = `${(move.share * 100).toFixed(0)} % likely: ${move.amount_mA.toFixed(0)} mA flow there`;
  const what = parts === 1 ? '' : `, ${parts} parts behind it`;
  return `${share}${what}; this way all is named in about ${minutes(move.expected_s)}.`;
}

function cautionsOf({ state, tree }: PullSession): string[] {
  const { phase, plan } = state;
  if (bridgedAside(state)) return [OFF_WHEN_QUIET];
  const cautions: string[] = [];
  const next = phase.name === 'proposing' ? plan[0] : undefined;
  if (next !== undefined) cautions.push(...careWords(tree, next.node));
  else if ('node' in phase && phase.node >= 0 && !asksFirst(phase)) cautions.push(...careWords(tree, phase.node));
  if (next?.kind === 'unplug')
    cautions.push('Does a door have to be opened for it? Bridge on first, off again afterwards.');
  if (next?.kind === 'pull') cautions.push('Do not open a door to reach it without the bridge.');
  if (phase.name === 'bridge-on' || phase.name === 'refitting') cautions.push(CAUTIONS.motorStarts.text);
  if (phase.name === 'bridge-off') cautions.push(OFF_WHEN_QUIET);
  return cautions;
}

/** Beside what is proposed, and beside what somebody took out all the same. */
function careWords(tree: FeedTree, id: number): string[] {
  if (tree.nodes[id]!.restricted)
    return [
      `Airbag, seat belt or high voltage there: measure only if the maker allows it; all else by the car maker's procedure, by trained, authorised persons.`,
    ];
  return careOf(tree, id) === 'free' ? [] : ['It is to be left alone, or feeds what is: measure only.'];
}

const asksFirst = (phase: Phase) => phase.name === 'asking' && phase.question === 'what-feeds';

function feedsQuestion({ state, tree }: PullSession, node: number, other: number | null): string {
  const kind = state.plan[0]?.kind;
  const parts = other !== null ? [other] : kind === undefined || kind === 'refit' ? [] : unknownParts(tree, kind, node);
  const fuses = [...new Set(parts.map((part) => called(tree, tree.nodes[part]!.parent ?? part)))];
  const list = fuses.length > 4 ? `${fuses.slice(0, 3).join(', ')} and ${fuses.length - 3} more` : fuses.join(' and ');
  const what =
    fuses.length === 1 && fuses[0] === called(tree, node) ? 'What' : `Before ${called(tree, node)} is tested: what`;
  return `${what} ${fuses.length === 1 ? 'does' : 'do'} ${list} feed? The list does not say. Look it up: is an airbag, seat belt or high-voltage circuit among it?`;
}

function questionOf(session: PullSession): string | null {
  const { state, tree } = session;
  const { phase } = state;
  if (phase.name !== 'asking') return null;
  const name = called(tree, phase.node);
  switch (phase.question) {
    case 'late-or-new':
      return `The draw fell just now. Did ${name} come out only then, after the tap?`;
    case 'was-it':
      return `The draw fell just now. Was that ${name} coming out?`;
    case 'what-feeds':
      return feedsQuestion(session, phase.node, phase.other);
    case 'back-in':
      return `The draw has not come back. Is ${name} really in again?`;
  }
}

function waitOf({ state }: PullSession): SessionView['wait'] {
  const { phase, settled_s } = state;
  if (phase.name === 'measuring') return { usually_s: 10, most_s: 240 };
  if (phase.name === 'levelling') return { usually_s: 20, most_s: 300 };
  if (phase.name !== 'settling') return null;
  const usual =
    settled_s.length === 0
      ? state.options.costs.settle_s
      : settled_s.reduce((sum, value) => sum + value, 0) / settled_s.length;
  return { usually_s: Math.max(0, usual - (state.now_s - phase.since_s)), most_s: SETTLE_s_MAX };
}

function soughtOf({ state, tree }: PullSession): SessionView['sought'] {
  const weights = weightsOf(tree, state);
  const belief = believe(tree, state.observations, weights);
  return soughtDraws(tree, belief, weights, state.named).map((draw) => ({
    amount_mA: draw.amount_mA,
    places: [...draw.parts]
      .map((share, part) => ({ share, id: tree.parts[part]! }))
      .sort((a, b) => b.share - a.share)
      .slice(0, KEPT_PLACES)
      .filter(({ share }) => share > 0.005)
      .map(({ share, id }) => {
        const odds = oddsOf(state.evidence, (node) => isBehind(tree, id, node));
        return { name: tree.nodes[id]!.name, share, odds: odds === 1 ? null : oddsInWords(odds) };
      }),
  }));
}

function closingOf({ state, tree }: PullSession): string {
  const last = [...state.log]
    .reverse()
    .find((entry) => ['found', 'nothing', 'undecided', 'stopped'].includes(entry.code));
  const sum = state.named.length > 1 ? ` Together ${namedSum_mA(state).toFixed(0)} mA.` : '';
  const out =
    state.out.length === 0
      ? ''
      : ` Still out: ${state.out.map((one) => called(tree, one.node)).join(', ')}. Bridge on, then put them back.`;
  const word: Record<string, string> = {
    found: 'Found',
    nothing: 'Nothing to look for',
    undecided: 'Undecided',
    stopped: 'Stopped',
  };
  return `${word[last?.code ?? ''] ?? 'Ended'}: ${last?.text ?? ''}.${sum}${out}`;
}

const minutes = (s: number) => (s < 90 ? `${Math.max(10, Math.round(s / 10) * 10)} s` : `${Math.round(s / 60)} min`);
