// Draws that come and go: which circuit to watch or to leave out for a night, and what
// two nights say when they are laid side by side.

import { ofWakeUps } from '../../say/polling.ts';
import type { Family, Findings } from '../../contract/findings.ts';
import { careOf, unknownParts } from '../tree/care.ts';
import { called, wayTo } from '../tree/tree.ts';
import type { FeedTree, TreeNode } from '../tree/tree.ts';

export interface NightAdvice {
  node: number;
  /**
   * `leave out`: that circuit may stay dark for a night. `second board`: it must stay on, so
   * watch it at its fuse. `ask first`: the list does not say what it feeds. `leave in`: none
   * of these is possible there.
   */
  how: 'leave out' | 'second board' | 'ask first' | 'leave in';
  probability: number;
  text: string;
}

/** Without these a car does not lock, wake or hold its alarm as it does: their circuits stay in. */
const STAYS_IN = /alarm|lock|gateway|keyless|immobili|brake|steering|body control|diagnostic/i;
/** What the board bears all night (firmware/BOARD.md, "Limits"): the circuit's own fuse must open before that. */
const BOARD_A = 10;

/**
 * The fuses worth a night, most telling first: nearest to one half of the belief, since
 * either answer then rules out as much.
 * @param belief probability of each part number
 */
export function nightAdvice(tree: FeedTree, belief: Float64Array, most = 3): NightAdvice[] {
  const total = belief.reduce((sum, value) => sum + value, 0) || 1;
  return tree.nodes
    .filter((node) => node.kind !== 'part' && node.type !== 'bolted')
    .map((node) => {
      let sum = 0;
      for (let part = node.first; part < node.end; part++) sum += belief[part]!;
      return { node, probability: sum / total };
    })
    .filter(({ probability }) => probability > 0.02)
    .sort((a, b) => Math.abs(a.probability - 0.5) - Math.abs(b.probability - 0.5) || b.node.first - a.node.first)
    .slice(0, most)
    .map(({ node, probability }): NightAdvice => ({ node: node.id, probability, ...adviceFor(tree, node) }));
}

function adviceFor(tree: FeedTree, node: TreeNode): Pick<NightAdvice, 'how' | 'text'> {
  const what = called(tree, node.id);
  const names = tree.parts.slice(node.first, node.end).map((id) => tree.nodes[id]!.name);
  const list = names.join(', ');
  if (node.restricted)
    return {
      how: 'leave in',
      text: `Leave ${what} in: airbag, seat belt or high voltage is behind it (${list}). The car maker's procedure only.`,
    };
  if (careOf(tree, node.id) !== 'free')
    return { how: 'leave in', text: `Leave ${what} in: it is marked to be left alone, or feeds what is (${list}).` };
  if (unknownParts(tree, 'pull', node.id).length > 0)
    return {
      how: 'ask first',
      text: `${capital(what)}: look up first what it feeds, and write it into the list; it stays in if an airbag, seat belt or high-voltage circuit is among it.`,
    };
  if (!names.some((name) => STAYS_IN.test(name)))
    return {
      how: 'leave out',
      text: `Leave ${what} out for a night: it feeds ${list}. Bridge on before it goes back in.`,
    };
  const must = `what it feeds must stay on (${list})`;
  if (node.kind === 'relay')
    return { how: 'leave in', text: `Leave ${what} in: ${must}. A second board goes at a fuse, not at a relay.` };
  if (node.rating_A === null || node.rating_A > BOARD_A)
    return {
      how: 'leave in',
      text: `Leave ${what} in: ${must}, and a second board bears ${BOARD_A} A all night, less than this fuse.`,
    };
  return {
    how: 'second board',
    text: `Watch ${what} with a second board for a night (${wayTo(tree, node.id)}): ${must}. Its own ${node.rating_A} A fuse stays in series with the board, on the feed side: firmware/BOARD.md, drawing 2.`,
  };
}

const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);

export interface FamilyFate {
  family: Family;
  fate: 'gone' | 'still there' | 'cannot tell';
  text: string;
}

/** Families are taken for one where length and charge differ by less than this factor. */
const ALIKE = 1.5;
/** A family must have been due this often in the second night before its absence means something. */
const DUE = 3;

/**
 * What became of the first night's families in a second night, in which `node` was left out.
 * A family that disappeared points to that circuit; one that is still there speaks against it.
 */
export function compareNights(tree: FeedTree, before: Findings, after: Findings, node: number): FamilyFate[] {
  const what = called(tree, node);
  const asleep_s = asleepFor(after);
  return ofWakeUps(before.families).map((family): FamilyFate => {
    if (metIn(after, family))
      return {
        family,
        fate: 'still there',
        text: `Family ${family.id} is still there: it does not come from ${what}.`,
      };
    const every_s = family.period_s ?? asleepFor(before) / family.count;
    const due = asleep_s / every_s;
    if (due < DUE)
      return {
        family,
        fate: 'cannot tell',
        text: `Family ${family.id} did not come, but would have been due only ${due.toFixed(1)} times: record a longer night.`,
      };
    return {
      family,
      fate: 'gone',
      text: `Family ${family.id} is gone, due ${due.toFixed(0)} times: it points to ${what}.`,
    };
  });
}

/**
 * What a second board at one fuse saw of the families that the whole car showed
 * in the same night. Clocks need not agree: families are known by length and charge.
 */
export function compareBoards(tree: FeedTree, car: Findings, circuit: Findings, node: number): FamilyFate[] {
  const what = called(tree, node);
  return ofWakeUps(car.families).map((family): FamilyFate => {
    if (metIn(circuit, family))
      return { family, fate: 'still there', text: `Family ${family.id} flows through ${what}: it comes from there.` };
    const due = circuit.trace.duration_s / (family.period_s ?? asleepFor(car) / family.count);
    if (due < DUE)
      return {
        family,
        fate: 'cannot tell',
        text: `Family ${family.id} was not seen at ${what}, but would have been due only ${due.toFixed(1)} times there: record a longer night.`,
      };
    return {
      family,
      fate: 'gone',
      text: `Family ${family.id} was not seen at ${what}, due ${due.toFixed(0)} times: it comes from elsewhere.`,
    };
  });
}

const metIn = (night: Findings, family: Family): boolean =>
  night.families.some((other) => alike(family, other)) ||
  night.wakeups.some((one) => alike(family, { duration_s: one.end_s - one.start_s, charge_mAh: one.charge_mAh }));

const asleepFor = (findings: Findings) => findings.trace.duration_s - (findings.asleep?.after_s ?? 0);

function alike(a: Pick<Family, 'duration_s' | 'charge_mAh'>, b: Pick<Family, 'duration_s' | 'charge_mAh'>): boolean {
  const within = (x: number, y: number) => Math.max(x, y) <= ALIKE * Math.min(x, y);
  return within(a.duration_s, b.duration_s) && within(a.charge_mAh, b.charge_mAh);
}
