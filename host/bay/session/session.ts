// The pull session: it is told what happens (readings, taps, entries) and says what to do
// next. A state and an event give the next state; it holds no clock, no port and no screen.
// What each phase does with each kind of event stands in one table. What may be concluded
// is in `conclude.ts`, what it says in `session-view.ts`.

import { oddsInWords } from '../search/evidence.ts';
import type { Evidence } from '../search/evidence.ts';
import { addReading, beginsBlock, NO_READINGS } from '../search/level.ts';
import {
  answerBackIn,
  answerLateOrNew,
  answerWasIt,
  answerWhatFeeds,
  leftMeasuring,
  mark,
  readBox,
  readDrop,
  skip,
  takeBack,
  tapWhenAsked,
  tookBack,
  tookOut,
  tookOutAsked,
  whileMeasuring,
} from './deeds.ts';
import { refitted, startSettling, whileLevelling, whileProposing, whileRefitting, whileSettling } from './levels.ts';
import { bridgedAside, nameOf, proposedTest, treeOf } from './session-state.ts';
import type { Phase, PhaseOf, Question, SessionEvent, SessionOptions, Session } from './session-state.ts';
import { awaitLevel, finish, FIRST_LOOK_s, go, note, PATIENCE_s, refit, replan, withoutForbidden } from './steps.ts';

/** After a prompt changed, a second tap of the same hand is not an answer to the new one. */
const DOUBLE_TAP_s = 1.5;

/**
 * A session that nothing has happened in.
 * @param treeText CSV of the feed tree
 * @param options those left out are as usual: 50 mA allowed, a meter with 0.1 mV
 * @throws Error naming the first mistake in the tree
 */
export function startSession(treeText: string, options: Partial<SessionOptions> = {}): Session {
  const list = { treeText, alone: {}, cleared: [], restricted: [] };
  treeOf({ list });
  return {
    list,
    now_s: 0,
    bridge: 'off',
    options: { allowance_mA: 50, step_mV: 0.1, ...options },
    phase: { name: 'levelling', since_s: 0, target_mA: null, patience_s: FIRST_LOOK_s },
    memory: NO_READINGS,
    tap_s: null,
    base_mA: null,
    observations: [],
    out: [],
    done: {},
    evidence: [],
    named: [],
    plan: [],
    repeat: null,
    unplaced_mA: 0,
    suspects: [],
    lastLook: false,
    settled_s: [],
    log: [],
  };
}

type Kind = SessionEvent['kind'];
/** Each question is a row of the table by itself. */
type Row = Exclude<Phase['name'], 'asking'> | Question;
type PhaseIn<R extends Row> = R extends Question ? PhaseOf<'asking'> : Phase & { name: R };
type Deed<P, K extends Kind> = (state: Session, phase: P, event: Extract<SessionEvent, { kind: K }>) => Session;
type Deeds<P> = { readonly [K in Kind]?: Deed<P, K> };

/** The plan stands, and nothing is being done: what is said of it makes it anew. */
const PLANNED: Deeds<Phase> = {
  skip,
  evidence: (state, _, { evidence }) => replan(noteEvidence(state, evidence)),
  alone: (state, _, { node, alone }) => replan(mark(state, node, alone)),
};

/** What each phase does with each kind of event, where that is not what `ANYWHERE` says. */
const PHASES: { readonly [R in Row]: Deeds<PhaseIn<R>> } = {
  levelling: {
    reading: whileLevelling,
    // Also while the car is restless: the hand does not wait for it.
    tap: (state, { target_mA }) => (target_mA === null ? state : tookOutAsked(state)),
    prepared: (state, phase) => go(state, { ...phase, since_s: state.now_s }),
  },
  proposing: {
    ...PLANNED,
    reading: whileProposing,
    tap: tookOutAsked,
    bridge: (state, _, { on }) => {
      const moved = bridgeMoved(state, on);
      return on || state.base_mA === null ? moved : awaitLevel(moved, state.base_mA);
    },
  },
  measuring: {
    reading: whileMeasuring,
    tap: (state, phase) => go(state, { ...phase, tapped: true }),
    bridge: (state, phase, { on }) => go(bridgeMoved(state, on), on ? phase : { ...phase, at_s: state.now_s }),
    wrong: (state, { node, before_mA }) => awaitLevel(tookBack(state, `${nameOf(state, node)} is not out`), before_mA),
    stop: (state, phase) => finish(leftMeasuring(state, phase), 'stopped', 'stopped'),
  },
  'bridge-on': {
    reading: whileRefitting,
    tap: (state, phase) => bridgeOnToRefit(state, phase, { on: true }),
    bridge: bridgeOnToRefit,
  },
  refitting: {
    reading: whileRefitting,
    tap: (state, { node }) => refit(state, 'bridge-off', node),
    bridge: bridgeOffToSettle,
    wrong: (state, { node }) =>
      refit({ ...tookBack(state, 'the bridge is not on yet'), bridge: 'off' }, 'bridge-on', node),
  },
  'bridge-off': {
    reading: whileRefitting,
    tap: (state, phase) => bridgeOffToSettle(state, phase, { on: false }),
    bridge: bridgeOffToSettle,
    wrong: (state, { node }) => refit(tookBack(state, `${nameOf(state, node)} is not in yet`), 'refitting', node),
  },
  settling: {
    reading: whileSettling,
    wrong: (state, { node }) =>
      refit({ ...tookBack(state, 'the bridge is not off yet'), bridge: 'on' }, 'bridge-off', node),
  },
  'late-or-new': { tap: tapWhenAsked, answer: answerLateOrNew },
  'was-it': { tap: tapWhenAsked, answer: answerWasIt },
  'back-in': { answer: answerBackIn },
  'what-feeds': { ...PLANNED, answer: answerWhatFeeds },
  finished: {},
};

/** What an event does where its phase says nothing else; one that stands in neither changes nothing. */
const ANYWHERE: Deeds<Phase> = {
  did: (state, _, { what, node }) =>
    what === 'refitted' ? refitted(state, node) : tookOut(state, what === 'pulled' ? 'pull' : 'unplug', node),
  bridge: (state, _, { on }) => bridgeMoved(state, on),
  drop: (state, _, { node, drop_mV }) => readDrop(state, node, drop_mV),
  drops: (state, _, { readings }) => readBox(state, readings),
  evidence: (state, _, { evidence }) => noteEvidence(state, evidence),
  alone: (state, _, { node, alone }) => mark(state, node, alone),
  wrong: takeBack,
  stop: (state) => finish(state, 'stopped', 'stopped'),
  resumed,
  note: (state, _, { code, text }) => note(state, code, text),
};

/**
 * The state after an event; the one given stays as it is. Events in the order of their times. Under 10 us for a reading
 * that changes nothing else, some milliseconds for one that ends a measurement.
 * @throws RangeError in words where a voltage cannot be
 */
export function reduceSession(before: Session, event: SessionEvent): Session {
  const state = event.t_s > before.now_s ? { ...before, now_s: event.t_s } : before;
  if (event.kind === 'reading') {
    // Past the bridge the board sees a part of the draw, or none.
    if (state.bridge === 'on') return state;
    const memory = addReading(state.memory, event);
    return beginsBlock(state.memory, memory) ? byPhase({ ...state, memory }, event) : { ...state, memory };
  }
  if (event.kind !== 'tap') return byPhase(state, event);
  const { now_s, tap_s } = state;
  if (tap_s !== null && now_s - tap_s < DOUBLE_TAP_s) return state;
  const tapped = { ...state, tap_s: now_s };
  return byPhase(tapped, bridgedAside(tapped) ? { kind: 'bridge', t_s: now_s, on: false } : event);
}

function byPhase(state: Session, event: SessionEvent): Session {
  const { phase } = state;
  const row = PHASES[phase.name === 'asking' ? phase.question : phase.name] as Deeds<Phase>;
  const deed = (row[event.kind] ?? ANYWHERE[event.kind]) as Deed<Phase, Kind> | undefined;
  return deed === undefined ? state : deed(state, phase, event);
}

/** What was measured before the bridge came off belongs to the bridge. */
function bridgeMoved(state: Session, on: boolean): Session {
  const { memory } = state;
  const next: Session = { ...state, bridge: on ? 'on' : 'off', memory: on ? memory : NO_READINGS };
  return note(next, 'bridge', on ? 'bridge on' : 'bridge off');
}

function bridgeOnToRefit(state: Session, { node }: { node: number }, { on }: { on: boolean }): Session {
  const moved = bridgeMoved(state, on);
  return on ? refit(moved, 'refitting', node) : moved;
}

function bridgeOffToSettle(state: Session, { node }: { node: number }, { on }: { on: boolean }): Session {
  const moved = bridgeMoved(state, on);
  return on ? moved : startSettling(moved, node);
}

function noteEvidence(state: Session, evidence: Evidence): Session {
  const { node, text, odds } = evidence;
  const words = `noted on ${nameOf(state, node)}: ${text} (${oddsInWords(odds)})`;
  return note({ ...state, evidence: [...state.evidence, evidence] }, 'evidence', words);
}

/** What the car did meanwhile is not known: its level is measured anew. The clock begins anew with the recording. */
function resumed(before: Session): Session {
  const kept = withoutForbidden(before);
  const { phase, now_s, base_mA } = kept;
  // What was asked for and came out just then is seen by its fall; anything else is not measured any more.
  const unseen = phase.name === 'measuring' && proposedTest(kept)?.node !== phase.node;
  const left = unseen ? leftMeasuring(kept, phase) : kept;
  const observations = kept.observations.map((one) => ({
    ...one,
    trace_s: one.trace_s ?? one.t_s,
    t_s: one.t_s - now_s - 2 * PATIENCE_s,
  }));
  const anew = { ...left, observations, now_s: 0, tap_s: null, memory: NO_READINGS };
  const state = note(anew, 'resumed', 'the session goes on');
  if (phase.name === 'finished' || base_mA === null) return state;
  return awaitLevel(state, unseen ? null : base_mA, PATIENCE_s);
}
