// What a screen shows of the work in the bay: one thing to do, what may be answered, and
// what is known so far. Plain data, the same for the terminal and the page.

import type { BayAnswer, BayView } from '../../contract/api-bay.ts';
import { CAUTIONS } from '../../say/cautions.ts';
import { PREPARATION } from './preparation.ts';
import { CLOSING_LIST } from './repair.ts';
import { bridgedAside } from '../session/session-state.ts';
import { viewOf } from '../session/session-view.ts';
import type { SessionView } from '../session/session-view.ts';
import type { BayWork } from './work.ts';

const SAID_MAX = 12;

/** Builds the view; costs some milliseconds, so on a change and not for each reading. */
export function workView(work: BayWork): BayView {
  const { session } = work;
  const view = viewOf(session);
  const { why, wait, others, total_mA, named, sought, rest_mA, finished, alone } = view;
  return {
    ...orderOf(work, view),
    stage: work.stage,
    bridge: session.state.bridge,
    why,
    wait: work.stage === 'pulling' ? wait : null,
    others,
    total_mA,
    named,
    sought,
    rest_mA,
    finished,
    alone,
    move: work.stage === 'pulling' && view.move !== null ? { kind: view.move.kind, name: view.move.name } : null,
    out: work.stillOut(),
    closing: CLOSING_LIST.map((item) => ({ ...item, ticked: work.closed.has(item.id) })),
    said: session.state.log.slice(-SAID_MAX),
  };
}

type Order = Pick<BayView, 'headline' | 'cautions' | 'answers' | 'sight' | 'step'>;

function orderOf(work: BayWork, view: SessionView): Order {
  const proof = work.prepare.proofOrder();
  if (proof !== null) {
    const waits = work.prepare.state.proof!.step === 'before' || work.prepare.state.proof!.step === 'with';
    return {
      headline: proof.headline,
      cautions: proof.cautions,
      answers: waits ? ['skip'] : ['tap', 'skip'],
      sight: null,
      step: null,
    };
  }
  switch (work.stage) {
    case 'preparing':
      return preparing(work);
    case 'pulling':
      return {
        headline: view.headline,
        cautions: view.cautions,
        answers: answersOf(work, view),
        sight: null,
        step: null,
      };
    case 'closing':
      return closing(work);
    case 'done':
      return { headline: 'All done. End the recording.', cautions: [], answers: [], sight: null, step: null };
  }
}

function preparing({ prepare }: BayWork): Order {
  const item = PREPARATION[prepare.state.at]!;
  const sight = prepare.sight()!;
  return {
    headline: item.text,
    cautions: [...item.cautions],
    answers: ['tap'],
    sight:
      sight.seen === 'cannot tell'
        ? `Cannot tell: ${sight.text}`
        : `${sight.seen === 'yes' ? 'Seen' : 'Not yet'}: ${sight.text}`,
    step: { number: prepare.state.at + 1, of: PREPARATION.length },
  };
}

function answersOf({ session }: BayWork, view: SessionView): BayAnswer[] {
  const back: BayAnswer[] = session.state.observations.length > 1 ? ['wrong'] : [];
  const { phase } = session.state;
  if (bridgedAside(session.state)) return ['tap', ...back];
  // A tap that comes just after the fall answers for itself: the hand was quicker than the question.
  if (phase.name === 'asking' && phase.question === 'what-feeds') return ['yes', 'no', 'skip', ...back];
  if (phase.name === 'asking')
    return phase.question === 'back-in' ? ['yes', 'no', ...back] : ['yes', 'no', 'tap', ...back];
  switch (view.phase) {
    case 'proposing':
      return [view.move?.kind === 'drop' ? 'drop' : 'tap', 'skip', ...back];
    case 'measuring':
      return ['wrong'];
    case 'bridge-on':
      return ['tap', ...back];
    case 'refitting':
    case 'bridge-off':
      return ['tap', 'wrong'];
    case 'settling':
      return ['wrong'];
    default:
      return back;
  }
}

function closing(work: BayWork): Order {
  const out = work.stillOut().at(-1);
  const of = CLOSING_LIST.length;
  if (out !== undefined)
    return {
      headline: work.session.state.bridge === 'off' ? `Bridge on: ${out} goes in again.` : `Put ${out} in again.`,
      cautions: [CAUTIONS.motorStarts.text],
      answers: ['tap'],
      sight: null,
      step: null,
    };
  const at = CLOSING_LIST.findIndex(({ id }) => !work.closed.has(id));
  return {
    headline: CLOSING_LIST[at]!.text,
    cautions: [],
    answers: ['tap'],
    sight: null,
    step: { number: at + 1, of },
  };
}
