// What a session says: the next thing to do, why, what it waits for, the cautions that
// belong to that, and what is believed so far. Words for a screen of any kind.

import { current, roughly } from '../../say/quantities.ts';
import { CAUTIONS } from '../../say/cautions.ts';
import type { Draw } from '../search/belief.ts';
import { oddsInWords, oddsOf } from '../search/evidence.ts';
import type { Proposal } from '../search/planner.ts';
import { careOf, unknownParts } from '../tree/care.ts';
import { called, isBehind, wayTo } from '../tree/tree.ts';
import type { FeedTree } from '../tree/tree.ts';
import { namedSum_mA, restNow_mA, settles_s, soughtDraws } from './conclude.ts';
import { SETTLE_s_MAX } from './levels.ts';
import { OUT_WORD } from './deeds.ts';
import { feedOf } from './feed.ts';
import { bridgedAside, hasTotal, nameOf, treeOf } from './session-state.ts';
import type { PhaseOf, Session } from './session-state.ts';

/** What the search itself has to show. */
export type SessionView = ReturnType<typeof viewSession>;

const KEPT_PLACES = 4;
const OFF_WHEN_QUIET = 'Bridge off only when nothing runs: no fan, no lamp, doors shut.';

/** What a session says now. Under a millisecond where what is believed is known already, else some milliseconds. */
export function viewSession(state: Session) {
  const { phase, plan, observations, named } = state;
  const tree = treeOf(state);
  const name = (node: number) => tree.nodes[node]!.name;
  const proposing = phase.name === 'proposing';
  const next = proposing && !bridgedAside(state) ? plan[0] : undefined;
  const total_mA = hasTotal(state) ? observations[0]!.amount_mA : null;
  const draws = total_mA === null ? [] : soughtDraws(state, named);
  return {
    headline: headlineOf(state),
    why: next === undefined ? '' : whyOf(tree, next),
    cautions: cautionsOf(state),
    wait: waitOf(state),
    move: next === undefined ? null : { kind: next.kind, name: name(next.node) },
    others: proposing
      ? plan.slice(1, 4).map(({ kind, node, expected_s }) => ({ kind, name: name(node), expected_s }))
      : [],
    total_mA,
    named: named.map(({ node, amount_mA, sigma_mA }) => ({
      name: name(node),
      way: wayTo(tree, node),
      amount_mA,
      sigma_mA,
    })),
    sought: draws.map((draw) => placesOf(state, draw)),
    rest_mA: total_mA === null ? null : restNow_mA(state, named),
    alone: tree.nodes.filter((node) => node.alone).map((node) => called(tree, node.id)),
    finished: phase.name === 'finished' ? closingOf(state, phase) : null,
    feed: feedOf(state, isOver(phase) ? [] : draws, next),
  };
}

function headlineOf(state: Session): string {
  const { phase } = state;
  if (bridgedAside(state)) return 'The bridge is on: nothing is measured. Take it off when all is quiet.';
  const name = 'node' in phase ? nameOf(state, phase.node) : '';
  switch (phase.name) {
    case 'levelling':
      return state.base_mA === null
        ? 'Measuring what the car draws. Touch nothing.'
        : 'Waiting until the draw holds still. Touch nothing.';
    case 'proposing':
      return orderOf(treeOf(state), state.plan[0]!);
    case 'measuring':
      return `${name} ${OUT_WORD[phase.kind]}: measuring. Touch nothing.`;
    case 'bridge-on':
      return `Bridge on: ${name} goes in again.`;
    case 'refitting':
      return `Put ${name} in again.`;
    case 'bridge-off':
      return 'Bridge off.';
    case 'settling':
      return `${name} is in again. Waiting for the car to settle.`;
    case 'asking':
      return questionOf(state, phase);
    case 'finished':
      return closingOf(state, phase);
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
  const share = `${(move.share * 100).toFixed(0)} % likely to feed the ${current(move.amount_mA)} sought`;
  const what = parts === 1 ? '' : `, ${parts} parts behind it`;
  return `${share}${what}; expect to finish in about ${roughly(move.expected_s)}.`;
}

function cautionsOf(state: Session): string[] {
  const { phase, plan } = state;
  if (bridgedAside(state)) return [OFF_WHEN_QUIET];
  const next = phase.name === 'proposing' ? plan[0] : undefined;
  const asksFirst = phase.name === 'asking' && phase.question === 'what-feeds';
  const node = next?.node ?? ('node' in phase && !asksFirst ? phase.node : null);
  const cautions = node === null ? [] : careWords(treeOf(state), node);
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

function feedsQuestion(state: Session, { node, other }: PhaseOf<'asking'>): string {
  const tree = treeOf(state);
  const kind = state.plan[0]?.kind;
  const parts = other !== null ? [other] : kind === undefined || kind === 'refit' ? [] : unknownParts(tree, kind, node);
  const fuses = [...new Set(parts.map((part) => called(tree, tree.nodes[part]!.parent ?? part)))];
  const list = fuses.length > 4 ? `${fuses.slice(0, 3).join(', ')} and ${fuses.length - 3} more` : fuses.join(' and ');
  const what =
    fuses.length === 1 && fuses[0] === called(tree, node) ? 'What' : `Before ${called(tree, node)} is tested: what`;
  return `${what} ${fuses.length === 1 ? 'does' : 'do'} ${list} feed? The list does not say. Look it up: is an airbag, seat belt or high-voltage circuit among it?`;
}

function questionOf(state: Session, phase: PhaseOf<'asking'>): string {
  const name = nameOf(state, phase.node);
  switch (phase.question) {
    case 'late-or-new':
      return `The draw fell just now. Did ${name} come out only then, after the tap?`;
    case 'was-it':
      return `The draw fell just now. Was that ${name} coming out?`;
    case 'what-feeds':
      return feedsQuestion(state, phase);
    case 'back-in':
      return `The draw has not come back. Is ${name} really in again?`;
  }
}

function waitOf(state: Session) {
  const { phase, now_s } = state;
  if (phase.name === 'measuring') return { usually_s: 10, most_s: 240 };
  if (phase.name === 'levelling') return { usually_s: 20, most_s: 300 };
  if (phase.name !== 'settling') return null;
  const usually_s = settles_s(state);
  return { usually_s: Math.max(0, usually_s - (now_s - phase.since_s)), most_s: SETTLE_s_MAX };
}

/** Nothing is looked for any more, since all that is too much is accounted for. */
const isOver = (phase: Session['phase']) =>
  phase.name === 'finished' && (phase.outcome === 'found' || phase.outcome === 'nothing');

function placesOf(state: Session, { amount_mA, parts }: Draw) {
  const tree = treeOf(state);
  const places = [...parts]
    .map((share, part) => ({ share, id: tree.parts[part]! }))
    .sort((a, b) => b.share - a.share)
    .slice(0, KEPT_PLACES)
    .filter(({ share }) => share > 0.005)
    .map(({ share, id }) => {
      const odds = oddsOf(state.evidence, (node) => isBehind(tree, id, node));
      return { name: tree.nodes[id]!.name, share, odds: odds === 1 ? null : oddsInWords(odds) };
    });
  return { amount_mA, places };
}

const ENDED = { found: 'Found', nothing: 'Nothing to look for', undecided: 'Undecided', stopped: 'Stopped' };

function closingOf(state: Session, { outcome }: PhaseOf<'finished'>): string {
  const { log, named, out } = state;
  const why = log.findLast(({ code }) => code === outcome)?.text ?? '';
  const sum = named.length > 1 ? ` Together ${current(namedSum_mA(named))}.` : '';
  const names = out.map((one) => nameOf(state, one.node)).join(', ');
  return `${ENDED[outcome]}: ${why}.${sum}${names === '' ? '' : ` Still out: ${names}. Bridge on, then put them back.`}`;
}
