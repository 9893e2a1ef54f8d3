// All work at one car, from the first item of the preparation to the last tick of the
// closing list: a state, and the next one after each event. The search itself is the
// session, a part of it; screens of any kind show `viewWork` of it. Holds no clock, no
// port, no file.

import type { BayAction, BayView } from '../../contract/api-bay.ts';
import { checkReadings } from '../search/drop-list.ts';
import { checkedOdds, EVIDENCE_KINDS } from '../search/evidence.ts';
import type { Evidence } from '../search/evidence.ts';
import type { TraceReading } from '../search/level.ts';
import { reduceSession, startSession } from '../session/session.ts';
import { nameOf, outNow, treeOf } from '../session/session-state.ts';
import type { SessionEvent, Session } from '../session/session-state.ts';
import { findNode } from '../tree/tree.ts';
import type { TreeNode } from '../tree/tree.ts';
import { PREPARATION } from './preparation.ts';
import { isPrepared, NOT_PREPARED, readPreparing, startProof, tapProof, tickItem } from './preparing.ts';
import type { Preparing } from './preparing.ts';
import { CLOSING_LIST } from './repair.ts';

/** What is wrong with an action, in words for who did it. */
export class BayProblem extends Error {}

/** What is wrong with which of several readings; none of them is kept. */
export class DropsProblem extends BayProblem {
  /** @param complaints `at`: the reading's place among those that were sent, from 0 */
  constructor(
    message: string,
    readonly complaints: readonly { at: number; text: string }[],
  ) {
    super(message);
  }
}

/** Never changed: each event makes a new one. */
export type Work = Readonly<{
  version: 2;
  session: Session;
  prepare: Preparing;
  /** What is ticked on the closing list. */
  closed: readonly string[];
  /** Answers that were taken to what was asked, whoever gave them; absent: kept by an earlier version. */
  answered?: number;
}>;

export type WorkEvent =
  | ({ kind: 'reading' } & TraceReading)
  | { kind: 'voltage'; battery_V: number }
  /** Something done or read at the car. `wall_ms`: milliseconds since 1970 UTC. */
  | { kind: 'action'; action: BayAction; wall_ms: number }
  /** The technician leaves: what is not back is noted. */
  | { kind: 'left' }
  /** Gone on with after a stop. */
  | { kind: 'resumed' };

/**
 * Work that nothing was done in; arguments and errors as of `startSession`.
 * @throws Error naming the first mistake in the tree
 */
export const startWork = (...start: Parameters<typeof startSession>): Work => ({
  version: 2,
  session: startSession(...start),
  prepare: NOT_PREPARED,
  closed: [],
});

/** How far the work is. */
export function stageOf({ prepare, session, closed }: Work): BayView['stage'] {
  if (!isPrepared(prepare)) return 'preparing';
  if (session.phase.name !== 'finished') return 'pulling';
  return session.out.length === 0 && closed.length === CLOSING_LIST.length ? 'done' : 'closing';
}

/**
 * The work after an event; the one given stays as it is. Some 10 us for a reading that changes nothing else, some
 * milliseconds for one that ends a measurement.
 * @throws BayProblem in words where an action makes no sense now
 */
export function reduceWork(work: Work, event: WorkEvent): Work {
  switch (event.kind) {
    case 'reading': {
      // The proof load is no draw of the car.
      const measures = isPrepared(work.prepare) && work.prepare.proof === null;
      const session = reduceSession(work.session, measures ? event : { kind: 'time', t_s: event.t_s });
      return { ...work, session, prepare: readPreparing(work.prepare, session.now_s, event) };
    }
    case 'voltage':
      return { ...work, prepare: { ...work.prepare, battery_V: event.battery_V } };
    case 'action':
      try {
        return counted(work, act(work, event.action, event.wall_ms), event.action);
      } catch (error) {
        if (error instanceof RangeError) throw new BayProblem(error.message, { cause: error });
        throw error;
      }
    case 'left': {
      const words = leftOut(work);
      return words === null ? work : note(work, 'left-out', words);
    }
    case 'resumed':
      return inSession(work, { kind: 'resumed' });
  }
}

const ANSWERS = new Set<BayAction['do']>(['tap', 'yes', 'no', 'wrong', 'skip', 'ready', 'give-up']);

/**
 * One more answer, where it was one that did something: what is noted of another fuse is none, and a second tap that
 * is taken for the first must not outdate what the page shows.
 */
const counted = (before: Work, after: Work, action: BayAction): Work =>
  (ANSWERS.has(action.do) || (action.do === 'drop' && action.name === undefined)) && isNews(before, after)
    ? { ...after, answered: (after.answered ?? 0) + 1 }
    : after;

/** Whether an event did something that is to be kept and shown. */
export function isNews({ session, prepare }: Work, after: Work): boolean {
  return (
    (['phase', 'log', 'plan'] as const).some((key) => session[key] !== after.session[key]) ||
    (['bridgeOff', 'proof'] as const).some((key) => prepare[key] !== after.prepare[key])
  );
}

/** What is out, in words. */
export const stillOut = ({ session }: Work): string[] => outNow(session).map((node) => nameOf(session, node));

/** What is still out, in a sentence for who leaves; null where all is back. */
export function leftOut(work: Work): string | null {
  const out = stillOut(work);
  return out.length === 0 ? null : `still out: ${out.join(', ')}. Bridge on, then put them back.`;
}

type Timeless<E> = E extends unknown ? Omit<E, 't_s'> : never;

const inSession = (work: Work, event: Timeless<SessionEvent>): Work => ({
  ...work,
  session: reduceSession(work.session, { ...event, t_s: work.session.now_s }),
});

const note = (work: Work, code: string, text: string) => inSession(work, { kind: 'note', code, text });

function act(work: Work, action: BayAction, wall_ms: number): Work {
  switch (action.do) {
    case 'tap':
      return tap(work);
    case 'ready':
      return ready(work);
    case 'skip':
      return work.prepare.proof === null ? inSession(work, { kind: 'skip' }) : leaveProof(work);
    case 'give-up':
      if (stageOf(work) !== 'pulling') throw new BayProblem('nothing is being looked for now');
      return inSession(work, { kind: 'stop' });
    case 'proof':
      return { ...work, prepare: startProof(work.prepare, work.session.now_s, action) };
    case 'tick':
      return tick(work, action.id, action.ticked);
    default:
      return inSession(work, eventOf(work.session, action, wall_ms));
  }
}

/** What the session is told of something done or read, with nodes for names. */
function eventOf(session: Session, action: BayAction, at_ms: number): Timeless<SessionEvent> {
  switch (action.do) {
    case 'bridge':
      return { kind: 'bridge', on: action.on };
    case 'drop':
      return { kind: 'drop', node: dropNode(session, action.name), drop_mV: action.drop_mV };
    case 'drops':
      return { kind: 'drops', readings: boxReadings(session, action) };
    case 'did':
      return { kind: 'did', what: action.what, node: didNode(session, action) };
    case 'evidence':
      return { kind: 'evidence', evidence: evidenceOf(session, action, at_ms) };
    case 'alone':
      return { kind: 'alone', node: aloneNode(session, action.name), alone: action.alone };
    case 'wrong':
      return { kind: 'wrong' };
    default:
      return { kind: 'answer', yes: action.do === 'yes' };
  }
}

function tap(work: Work): Work {
  const { session, prepare } = work;
  if (prepare.proof !== null) {
    const tapped = { ...work, prepare: tapProof(prepare, session.now_s) };
    return tapped.prepare.proof === null ? note(tapped, 'proof', tapped.prepare.proved!.sentence) : tapped;
  }
  if (isPrepared(prepare))
    return session.phase.name === 'finished' ? tapClosing(work) : inSession(work, { kind: 'tap' });
  const { id } = PREPARATION[prepare.at]!;
  const ticked = tickItem(prepare, session.now_s);
  let next = note({ ...work, prepare: ticked.prepare }, 'prepared', ticked.words);
  if (id === 'bridge-on' || id === 'bridge-off') next = inSession(next, { kind: 'bridge', on: id === 'bridge-on' });
  return isPrepared(next.prepare) ? inSession(next, { kind: 'prepared' }) : next;
}

const leaveProof = (work: Work): Work =>
  note(
    { ...work, prepare: { ...work.prepare, proof: null } },
    'proof-left',
    'the proof load is left out; take the resistor off if it is on',
  );

function ready(work: Work): Work {
  const { prepare } = work;
  if (isPrepared(prepare)) throw new BayProblem('the preparation is over already');
  const left = PREPARATION.slice(prepare.at).map((item) => item.id);
  const next = note(
    { ...work, prepare: { ...prepare, at: PREPARATION.length } },
    'prepared',
    `said to be prepared: ${left.join(', ')} not gone through`,
  );
  return inSession(next, { kind: 'prepared' });
}

/** After the end: what is out goes in first, then the list. */
function tapClosing(work: Work): Work {
  const { bridge, out } = work.session;
  const last = out.at(-1);
  if (last !== undefined)
    return inSession(
      work,
      bridge === 'off' ? { kind: 'bridge', on: true } : { kind: 'did', what: 'refitted', node: last.node },
    );
  const next = CLOSING_LIST.find(({ id }) => !work.closed.includes(id));
  return next === undefined ? work : tick(work, next.id, true);
}

function tick(work: Work, id: string, ticked: boolean): Work {
  const item = CLOSING_LIST.find((one) => one.id === id);
  if (item === undefined) throw new BayProblem(`'${id}' is not on the closing list`);
  if (ticked && id === 'fuses' && work.session.out.length > 0)
    throw new BayProblem(`still out: ${stillOut(work).join(', ')}; put them back first`);
  const others = work.closed.filter((one) => one !== id);
  const closed = ticked ? [...others, id] : others;
  return note({ ...work, closed }, 'closing', `${ticked ? 'done' : 'not done'}: ${item.text}`);
}

function named(session: Session, name: string): TreeNode {
  const node = findNode(treeOf(session), name);
  if (node === null)
    throw new BayProblem(`'${name}' is no fuse or part of the tree, or there are several; write box/position`);
  return node;
}

function didNode(session: Session, { what, name }: Extract<BayAction, { do: 'did' }>): number {
  const { id, kind, type } = named(session, name);
  if (what === 'pulled' && (kind === 'part' || type === 'bolted'))
    throw new BayProblem(`${nameOf(session, id)} cannot be pulled; a part is unplugged, a bolted link stays in`);
  if (what === 'unplugged' && kind !== 'part') throw new BayProblem(`${nameOf(session, id)} is pulled, not unplugged`);
  return id;
}

function dropNode(session: Session, name: string | undefined): number {
  if (name !== undefined) {
    const node = named(session, name);
    if (node.kind === 'part') throw new BayProblem(`${node.name} is a part; a voltage is read across a fuse`);
    return node.id;
  }
  const next = session.plan[0];
  if (session.phase.name !== 'proposing' || next?.kind !== 'drop')
    throw new BayProblem('no voltage is asked for now; name the fuse that was read');
  return next.node;
}

function boxReadings(session: Session, { readings }: Extract<BayAction, { do: 'drops' }>) {
  const given = readings.map(({ name, written }, at) => ({ line: at + 1, name, written }));
  const { readings: good, complaints } = checkReadings(given, treeOf(session), 'reading');
  if (complaints.length === 0) return good.map(({ node, drop_mV }) => ({ node: node.id, drop_mV }));
  const which = complaints.length === 1 ? 'one voltage cannot be' : `${complaints.length} voltages cannot be`;
  throw new DropsProblem(
    `${which}, so none of the ${given.length} is noted: ${complaints[0]!.text}`,
    complaints.map(({ line, text }) => ({ at: line - 1, text })),
  );
}

function aloneNode(session: Session, name: string | undefined): number {
  if (name !== undefined) return named(session, name).id;
  const { phase, plan } = session;
  const planned = phase.name === 'proposing' || (phase.name === 'asking' && phase.question === 'what-feeds');
  const next = planned ? plan[0] : undefined;
  if (next === undefined)
    throw new BayProblem('nothing is proposed now; name the fuse or part that is to be left alone');
  return next.node;
}

function evidenceOf(session: Session, piece: Extract<BayAction, { do: 'evidence' }>, at_ms: number): Evidence {
  const { name, kind, text, source } = piece;
  const usual = EVIDENCE_KINDS[kind];
  const odds = checkedOdds(piece.odds ?? usual.odds);
  return { node: named(session, name).id, kind, odds, text: text === '' ? usual.text : text, source, at_ms };
}
