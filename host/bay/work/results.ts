// What came out of the work in the bay, as plain data for whoever hands it over: the
// report, `analyse`, a page. Made of what a capture keeps of that work. Pure.

import type { BayEntry } from '../../capture/store/bay-log.ts';
import type { Observation } from '../search/belief.ts';
import { namedSum_mA } from '../session/conclude.ts';
import { oddsInWords } from '../search/evidence.ts';
import { boxTable } from '../tree/fuses.ts';
import type { BoxTable } from '../tree/fuses.ts';
import { FLICKER_mA } from '../search/level.ts';
import { CLOSING_LIST } from './repair.ts';
import type { PullSession } from '../session/session.ts';
import type { Outcome } from '../session/session-state.ts';
import { viewOf } from '../session/session-view.ts';
import type { SessionView } from '../session/session-view.ts';
import { called, wayTo } from '../tree/tree.ts';
import { BayWork } from './work.ts';

/**
 * `proven`: the board saw the draw fall with it alone. `not proven`: nearly all speaks for it, but it was not seen
 * alone.
 */
export type PartCode = 'proven' | 'not proven' | 'undecided';

export interface PartResult {
  code: PartCode;
  /** The part; where it is undecided, the likeliest ones. */
  name: string;
  /** The way of the current, from the battery; empty where it is undecided. */
  way: string;
  amount_mA: number;
  /** Twice the standard deviation; null where it was not measured alone. */
  doubt_mA: number | null;
}

export interface TestResult {
  /** Trace time. */
  t_s: number;
  how: 'pulled' | 'unplugged' | 'in again' | 'read' | 'measured';
  name: string;
  /** What the draw fell by; for `in again` what it rose by, for the others what flows. */
  amount_mA: number;
  /** Twice the standard deviation. */
  doubt_mA: number;
  /** Across the fuse; null where none was read. */
  drop_mV: number | null;
  /** Against the 10 mA that mean nothing. */
  says: 'draws' | 'nothing' | 'not sure';
}

export interface EvidenceResult {
  name: string;
  kind: string;
  text: string;
  source: string;
  odds: number;
  oddsInWords: string;
  /** Wall clock, ISO 8601; null where not known. */
  at: string | null;
}

export interface BayResults {
  /** Trace time at which the work began: what was recorded before is a night of its own. */
  from_s: number;
  /** Null while the search is not over. */
  outcome: Outcome | null;
  sentence: string;
  /** What to do now. */
  next: string;
  allowance_mA: number;
  parts: PartResult[];
  /** The draws and what they add up to; null before the first level. */
  sum: null | { total_mA: number; named_mA: number; rest_mA: number; sentence: string };
  tests: TestResult[];
  /** Voltages read with everything in its place; null where there are none. */
  drops: BoxTable | null;
  evidence: EvidenceResult[];
  proof: null | { t_s: number; sentence: string };
  /** Fuses and parts that are out now. */
  out: string[];
  prepared: { items: number; seen: number; against: number };
  closing: { id: string; text: string; ticked: boolean }[];
}

/** From this share on a place is told by its name alone. */
const NEARLY_SURE = 0.9;

/**
 * @param entries by trace time, as the capture keeps them
 * @param state the work's last state
 * @throws Error in one sentence where the state is no work of this version
 */
export function bayResults({ entries, state }: { entries: readonly BayEntry[]; state: string }): BayResults {
  const work = BayWork.resume(state);
  const { session } = work;
  const view = viewOf(session);
  const { phase, options } = session.state;
  const last = <T>(list: readonly T[]) => list.at(-1);
  const proof = last(entries.filter(({ code }) => code === 'proof'));
  return {
    from_s: entries[0]?.t_s ?? 0,
    outcome: phase.name === 'finished' ? phase.outcome : null,
    sentence:
      view.finished ??
      (view.total_mA === null
        ? 'The work in the bay has not come to a level yet.'
        : 'The search in the bay is not over.'),
    next: nextOf(session, work.stillOut()),
    allowance_mA: options.allowance_mA,
    parts: partsOf(session, view),
    sum: sumOf(session, view),
    tests: session.state.observations.map((one) => testOf(session, one)).sort((a, b) => a.t_s - b.t_s),
    drops: dropsOf(session, view.total_mA),
    evidence: session.state.evidence.map((one) => ({
      name: called(session.tree, one.node),
      kind: one.kind,
      text: one.text,
      source: one.source,
      odds: one.odds,
      oddsInWords: oddsInWords(one.odds),
      at: one.at_ms === null ? null : new Date(one.at_ms).toISOString(),
    })),
    proof: proof === undefined ? null : { t_s: proof.t_s, sentence: proof.text },
    out: work.stillOut(),
    prepared: preparedOf(entries),
    closing: CLOSING_LIST.map((item) => ({ ...item, ticked: work.closed.has(item.id) })),
  };
}

function nextOf({ state, tree }: PullSession, out: readonly string[]): string {
  if (out.length > 0) return `Bridge on, then put back what is out: ${out.join(', ')}.`;
  const outcome = state.phase.name === 'finished' ? state.phase.outcome : null;
  if (outcome === 'found')
    return `Put ${state.named.map((one) => tree.nodes[one.node]!.name).join(' and ')} right, then record a night and compare it with the one before: that proves the repair.`;
  if (outcome === 'nothing')
    return 'The draw was not there while the work went on: record a night; it tells when it comes.';
  return outcome === null
    ? 'Go on in the bay where it was left.'
    : 'Record another night: nightdraw bay --tree CAR.csv --night FILE says which fuse to leave out for it or to watch with a second board.';
}

function partsOf({ state, tree }: PullSession, view: SessionView): PartResult[] {
  const named = state.named.map((one): PartResult => ({
    code: 'proven',
    name: tree.nodes[one.node]!.name,
    way: wayTo(tree, one.node),
    amount_mA: one.amount_mA,
    doubt_mA: Math.max(1, 2 * one.sigma_mA),
  }));
  const { phase } = state;
  const over = phase.name === 'finished' && (phase.outcome === 'found' || phase.outcome === 'nothing');
  if (over || (view.rest_mA ?? 0) <= state.options.allowance_mA) return named;
  const open = view.sought.flatMap(({ amount_mA, places }): PartResult[] => {
    const first = places[0];
    if (first === undefined) return [];
    if (first.share < NEARLY_SURE)
      return [
        {
          code: 'undecided',
          name: places.map(({ name, share }) => `${name} ${(share * 100).toFixed(0)} %`).join(', '),
          way: '',
          amount_mA,
          doubt_mA: null,
        },
      ];
    const part = tree.parts.find((id) => tree.nodes[id]!.name === first.name);
    return [
      {
        code: 'not proven',
        name: first.name,
        way: part === undefined ? '' : wayTo(tree, part),
        amount_mA,
        doubt_mA: null,
      },
    ];
  });
  return [...named, ...open];
}

function sumOf({ state }: PullSession, { total_mA, rest_mA }: SessionView): BayResults['sum'] {
  if (total_mA === null || rest_mA === null) return null;
  const named_mA = namedSum_mA(state);
  const gone_mA = total_mA - named_mA - rest_mA;
  const each = state.named.map((one) => `${one.amount_mA.toFixed(0)} mA`).join(' and ');
  const rest = `${Math.max(0, rest_mA).toFixed(0)} mA ${state.named.length === 0 ? 'of no part that is named' : 'for all the rest'}, ${rest_mA <= state.options.allowance_mA ? 'within' : 'over'} the allowance of ${state.options.allowance_mA} mA`;
  const gone =
    Math.abs(gone_mA) <= FLICKER_mA
      ? ''
      : gone_mA > 0
        ? `; ${gone_mA.toFixed(0)} mA went away by themselves meanwhile`
        : `; ${(-gone_mA).toFixed(0)} mA came on by themselves meanwhile`;
  return {
    total_mA,
    named_mA,
    rest_mA,
    sentence: `The car drew ${total_mA.toFixed(0)} mA: ${each === '' ? '' : `${each} named, `}${rest}${gone}.`,
  };
}

const HOW: Record<Observation['how'], TestResult['how']> = {
  total: 'measured',
  level: 'measured',
  pull: 'pulled',
  unplug: 'unplugged',
  refit: 'in again',
  drop: 'read',
};

function testOf({ tree }: PullSession, one: Observation): TestResult {
  const { how, amount_mA, sigma_mA, node } = one;
  const size_mA = Math.abs(amount_mA);
  const says =
    size_mA - 2 * sigma_mA > FLICKER_mA ? 'draws' : size_mA + 2 * sigma_mA < FLICKER_mA + 2 ? 'nothing' : 'not sure';
  return {
    t_s: one.trace_s ?? one.t_s,
    how: HOW[how],
    name: node >= 0 ? called(tree, node) : one.without.length === 0 ? 'the whole car' : 'the car without what was out',
    amount_mA,
    doubt_mA: Math.max(1, 2 * sigma_mA),
    drop_mV: one.drop_mV ?? null,
    says: one.doubtful === true ? 'not sure' : says,
  };
}

/** Only what was read with everything in its place can be held against the whole car's draw. */
function dropsOf({ tree, state }: PullSession, total_mA: number | null): BoxTable | null {
  const whole = state.observations.filter(
    (one) => one.how === 'drop' && one.without.length === 0 && one.drop_mV !== undefined,
  );
  const latest = [...new Map(whole.map((one) => [one.node, one.drop_mV!]))];
  if (latest.length === 0) return null;
  const above = (id: number) => wayTo(tree, id).split(' > ').slice(0, -1);
  return boxTable(
    latest.map(([id, drop_mV]) => ({ node: tree.nodes[id]!, above: above(id), drop_mV })),
    total_mA,
    state.options.step_mV ?? 0.1,
  );
}

/** How much of the preparation was gone through, and what the readings said of it. */
function preparedOf(entries: readonly BayEntry[]): BayResults['prepared'] {
  const seen = entries
    .filter(({ code }) => code === 'prepared')
    .map(({ text }) => /Seen by the program: (yes|no|cannot tell)/.exec(text)?.[1]);
  return {
    items: seen.filter((word) => word !== undefined).length,
    seen: seen.filter((word) => word === 'yes').length,
    against: seen.filter((word) => word === 'no').length,
  };
}
