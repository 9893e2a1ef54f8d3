// What came out of the work in the bay, as plain data for whoever hands it over: the
// report, `analyse`, a page. Made of what a capture keeps of that work. Pure.

import { current } from '../../say/quantities.ts';
import type { BayEntry } from '../../capture/store/bay-log.ts';
import type { BayView } from '../../contract/api-bay.ts';
import type { Observation } from '../search/belief.ts';
import { oddsInWords } from '../search/evidence.ts';
import type { Evidence } from '../search/evidence.ts';
import { FLICKER_mA } from '../search/level.ts';
import { namedSum_mA } from '../session/conclude.ts';
import { saysOf } from '../session/deeds.ts';
import { nameOf, treeOf } from '../session/session-state.ts';
import type { Outcome, Session } from '../session/session-state.ts';
import { viewSession } from '../session/session-view.ts';
import type { SessionView } from '../session/session-view.ts';
import { boxTable } from '../tree/fuses.ts';
import type { BoxTable } from '../tree/fuses.ts';
import { wayTo } from '../tree/tree.ts';
import { readWork } from './kept-state.ts';
import { closingList } from './work-view.ts';
import { stillOut } from './work.ts';

/** What was done, in words. */
const HOW = {
  total: 'measured',
  level: 'measured',
  pull: 'pulled',
  unplug: 'unplugged',
  refit: 'in again',
  drop: 'read',
} as const;

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
  how: (typeof HOW)[Observation['how']];
  name: string;
  /** What the draw fell by; for `in again` what it rose by, for the others what flows. */
  amount_mA: number;
  /** Twice the standard deviation. */
  doubt_mA: number;
  /** Across the fuse; null where none was read. */
  drop_mV: number | null;
  /** Against the 10 mA that mean nothing. */
  says: ReturnType<typeof saysOf>;
}

export interface EvidenceResult extends Omit<Evidence, 'node' | 'at_ms'> {
  name: string;
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
  closing: BayView['closing'];
}

/** From this share on a place is told by its name alone. */
const NEARLY_SURE = 0.9;

/**
 * What the work that a capture keeps came to; reading it changes nothing. Some milliseconds.
 * @param entries by trace time, as the capture keeps them
 * @param state the work's last state
 * @throws Error in one sentence where the state is no work of this version
 */
export function bayResults({ entries, state }: { entries: readonly BayEntry[]; state: string }): BayResults {
  const work = readWork(state);
  const { session, prepare } = work;
  const view = viewSession(session);
  const outcome = session.phase.name === 'finished' ? session.phase.outcome : null;
  const out = stillOut(work);
  const seen = (word: (typeof prepare.seen)[number]) => prepare.seen.filter((one) => one === word).length;
  return {
    from_s: entries[0]?.t_s ?? 0,
    outcome,
    sentence:
      view.finished ??
      (view.total_mA === null
        ? 'The work in the bay has not come to a level yet.'
        : 'The search in the bay is not over.'),
    next: nextOf(view, outcome, out),
    allowance_mA: session.options.allowance_mA,
    parts: partsOf(session, view, outcome),
    sum: sumOf(session, view),
    tests: session.observations.map((one) => testOf(session, one)).sort((a, b) => a.t_s - b.t_s),
    drops: dropsOf(session, view.total_mA),
    evidence: session.evidence.map(({ node, at_ms, ...piece }) => ({
      ...piece,
      name: nameOf(session, node),
      oddsInWords: oddsInWords(piece.odds),
      at: at_ms === null ? null : new Date(at_ms).toISOString(),
    })),
    proof: prepare.proved,
    out,
    prepared: { items: prepare.seen.length, seen: seen('yes'), against: seen('no') },
    closing: closingList(work.closed),
  };
}

/** An hour of recording before the work began is a night of its own. */
const NIGHT_s_MIN = 3600;

/** Whether the recording is of the work alone: then it is no night to judge. */
export const isWorkAlone = ({ from_s }: BayResults): boolean => from_s < NIGHT_s_MIN;

function nextOf({ named }: SessionView, outcome: Outcome | null, out: readonly string[]): string {
  if (out.length > 0) return `Bridge on, then put back what is out: ${out.join(', ')}.`;
  switch (outcome) {
    case null:
      return 'Go on in the bay where it was left.';
    case 'found':
      return `Put ${named.map((one) => one.name).join(' and ')} right, then record a night and compare it with the one before: that proves the repair.`;
    case 'nothing':
      return 'The draw was not there while the work went on: record a night; it tells when it comes.';
    default:
      return 'Record another night: nightdraw bay --tree CAR.csv --night FILE says which fuse to leave out for it or to watch with a second board.';
  }
}

/** Twice the standard deviation, a milliampere at least. */
const doubt_mA = (sigma_mA: number) => Math.max(1, 2 * sigma_mA);

function partsOf(session: Session, view: SessionView, outcome: Outcome | null): PartResult[] {
  const tree = treeOf(session);
  const named = view.named.map(({ sigma_mA, ...one }): PartResult => ({
    ...one,
    code: 'proven',
    doubt_mA: doubt_mA(sigma_mA),
  }));
  const over = outcome === 'found' || outcome === 'nothing';
  if (over || (view.rest_mA ?? 0) <= session.options.allowance_mA) return named;
  const open = view.sought.flatMap(({ amount_mA, places }): PartResult[] => {
    const first = places[0];
    if (first === undefined) return [];
    const sure = first.share >= NEARLY_SURE;
    const part = tree.parts.find((id) => sure && tree.nodes[id]!.name === first.name);
    const shares = places.map(({ name, share }) => `${name} ${(share * 100).toFixed(0)} %`).join(', ');
    return [
      {
        code: sure ? 'not proven' : 'undecided',
        name: sure ? first.name : shares,
        way: part === undefined ? '' : wayTo(tree, part),
        amount_mA,
        doubt_mA: null,
      },
    ];
  });
  return [...named, ...open];
}

function sumOf({ named, options }: Session, { total_mA, rest_mA }: SessionView): BayResults['sum'] {
  if (total_mA === null || rest_mA === null) return null;
  const named_mA = namedSum_mA(named);
  const gone_mA = total_mA - named_mA - rest_mA;
  const each = named.map((one) => `${current(one.amount_mA)}`).join(' and ');
  const rest = `${current(Math.max(0, rest_mA))} ${named.length === 0 ? 'of no part that is named' : 'for all the rest'}, ${rest_mA <= options.allowance_mA ? 'within' : 'over'} the allowance of ${options.allowance_mA} mA`;
  const gone = `; meanwhile ${current(Math.abs(gone_mA))} ${gone_mA > 0 ? 'fell away' : 'came on'} by itself`;
  return {
    total_mA,
    named_mA,
    rest_mA,
    sentence: `The car drew ${current(total_mA)}: ${each === '' ? '' : `${each} named, `}${rest}${Math.abs(gone_mA) <= FLICKER_mA ? '' : gone}.`,
  };
}

function testOf(session: Session, one: Observation): TestResult {
  const { how, amount_mA, sigma_mA, node } = one;
  const whole = one.without.length === 0 ? 'the whole car' : 'the car without what was out';
  return {
    t_s: one.trace_s ?? one.t_s,
    how: HOW[how],
    name: node >= 0 ? nameOf(session, node) : whole,
    amount_mA,
    doubt_mA: doubt_mA(sigma_mA),
    drop_mV: one.drop_mV ?? null,
    says: one.doubtful === true ? 'not sure' : saysOf(Math.abs(amount_mA), sigma_mA),
  };
}

/** Only what was read with everything in its place can be held against the whole car's draw. */
function dropsOf(session: Session, total_mA: number | null): BoxTable | null {
  const tree = treeOf(session);
  const whole = session.observations.filter(
    ({ how, without, drop_mV }) => how === 'drop' && without.length === 0 && drop_mV !== undefined,
  );
  const latest = [...new Map(whole.map((one) => [one.node, one.drop_mV!]))];
  if (latest.length === 0) return null;
  const above = (id: number) => wayTo(tree, id).split(' > ').slice(0, -1);
  return boxTable(
    latest.map(([id, drop_mV]) => ({ node: tree.nodes[id]!, above: above(id), drop_mV })),
    total_mA,
    session.options.step_mV ?? 0.1,
  );
}
